import type { Answer } from '../../core/answer.ts';
import type { Comparison, SettingOutcome } from '../../core/compare/index.ts';
import { Scroll, Sketch, sketchSpanM } from '../../core/report/draw/index.ts';
import {
  countText,
  distanceText,
  gapOr,
  gapText,
  lengthOr,
  SETTING_TITLE,
  signedGap,
  verdictSentence,
} from '../../core/report/index.ts';
import { FIX_WORD, VERDICT_WORD } from './labels.ts';
import { Sign } from './sign.tsx';

/** The stamps of a check: their shapes mean the same here. */
const SIGN: Record<Comparison['verdict'], 'agrees' | 'differs' | 'undecided'> = {
  fixed: 'agrees',
  'not fixed': 'differs',
  'not enough data': 'undecided',
  'nothing to fix': 'agrees',
};

const OUTCOME: Record<SettingOutcome['outcome'], string> = {
  fixed: 'Fixed',
  'not fixed': 'Not fixed',
  'not enough data': 'Cannot tell yet',
  new: 'New',
};

export function FixStamp({ comparison }: { comparison: Comparison }) {
  return (
    <div class={`stamp ${SIGN[comparison.verdict]}`}>
      <span class="word">
        <Sign verdict={SIGN[comparison.verdict]} />
        {FIX_WORD[comparison.verdict]}
      </span>
      <p class="says">{inWords(comparison)}</p>
    </div>
  );
}

/** The comparison's sentence without the word of the stamp. */
function inWords(c: Comparison): string {
  return capital(c.says.replace(/^(Fixed|Not fixed|Cannot tell yet)[.:] /, ''));
}

function capital(s: string): string {
  return s.charAt(0).toUpperCase() + s.slice(1);
}

/** Before and after, side by side: the same pictures and the same numbers. */
export function Fix({ before, after, comparison }: { before: Answer; after: Answer; comparison: Comparison }) {
  const { unit } = after.planter;
  const rows: [string, (a: Answer) => string, plain?: boolean][] = [
    ['By itself', ({ report }) => `${VERDICT_WORD[report.verdict]}: ${verdictSentence(report)}`, true],
    ['Recorded width', ({ report }) => lengthOr(report.recorded.workingWidthM, unit)],
    ['Sections recorded', ({ report }) => (report.recorded.sections.length || 'none distinguished').toString()],
    ['Seam as recorded', ({ report }) => seam(report.seams.recordedM)],
    ['Seam as planted', ({ report }) => seam(report.seams.plantedM)],
    ['Guess row', ({ report }) => gapOr(report.seams.guessRowM, unit)],
    [
      'Driven',
      ({ report }) =>
        `${countText(report.map.passes, 'pass', 'passes')}, ${distanceText(report.map.travelM, unit === 'in' ? 'in' : 'm')}`,
      true,
    ],
  ];
  function seam(m: number | null): string {
    return m === null ? 'not known' : signedGap(m, unit);
  }
  const sides: [string, Answer][] = [
    ['Before', before],
    ['After', after],
  ];
  return (
    <section class="fix" aria-label="Before and after">
      {comparison.settings.length > 0 && (
        <ul class="outcomes">
          {comparison.settings.map((s) => (
            <li key={s.setting} class={s.outcome.replaceAll(' ', '-')}>
              <b>{SETTING_TITLE[s.setting]}</b> <span class="outcome">{OUTCOME[s.outcome]}</span>
              <span class="row">{capital(s.says.replace(/^(Fixed|Not fixed|New): /, ''))}</span>
            </li>
          ))}
        </ul>
      )}
      <Scroll name="Before and after">
        <table class="stacked sides">
          <thead>
            <tr>
              <td />
              {sides.map(([name, a]) => (
                <th scope="col" key={name}>
                  {name} <span class="file">{a.report.map.source}</span>
                </th>
              ))}
            </tr>
          </thead>
          <tbody>
            <tr>
              <th scope="row">The middle of it, {distanceText(sketchSpanM(unit), unit)} from side to side</th>
              {sides.map(([name, a]) => (
                <td key={name}>
                  <Sketch answer={a} name={name} />
                </td>
              ))}
            </tr>
            {rows.map(([label, of, plain]) => (
              <tr key={label}>
                <th scope="row">{label}</th>
                {sides.map(([name, a]) => (
                  <td key={name} class={plain || of(before) === of(after) ? '' : 'changed'}>
                    {of(a)}
                  </td>
                ))}
              </tr>
            ))}
          </tbody>
        </table>
      </Scroll>
      <p class="quiet after-table">
        In the pictures: passes in two shades; unbroken red, a seam left open on the ground; broken purple, a seam
        planted twice; both to scale, and only where a seam is beyond the tolerance of{' '}
        {gapText(after.report.seams.toleranceM, unit)} and the account finds more than steering behind it. The parts
        below describe the map recorded after the fix.
      </p>
    </section>
  );
}
