import { Fragment } from 'preact';
import type { Answer } from '../../core/answer.ts';
import { areaCheck, areaRows, countText, NO_SEAMS, seamFacts, shareText } from '../../core/report/index.ts';
import { TwoRulers } from '../draw/rulers.tsx';
import { SeamChart } from '../draw/seamchart.tsx';
import { TimeLine } from '../draw/timeline.tsx';
import type { Choice } from '../selection.ts';
import type { Done } from '../state/index.ts';
import { MapView } from './mapview.tsx';
import { Part } from './part.tsx';
import { PassTable } from './passtable.tsx';
import { Scroll } from './scroll.tsx';
import { CHANGED } from './words.ts';

export function EvidencePart({ done, choice, old }: { done: Done; choice: Choice; old: boolean }) {
  const { answer, series, boundary } = done;
  const { report, evidence, planter } = answer;
  return (
    <Part number={4} id="evidence" title="The evidence" lead="What was measured, to look at and to doubt.">
      {old && <p class="note">{CHANGED}</p>}
      <h3>The field</h3>
      <MapView answer={answer} boundary={boundary} choice={choice} />
      <h3>The two rulers</h3>
      <TwoRulers report={report} planter={planter} choice={choice} />
      <SectionButtons count={report.recorded.sections.length} choice={choice} />
      <h3>The seams</h3>
      <Seams answer={answer} />
      {evidence.seams.length > 0 && <SeamChart answer={answer} choice={choice} />}
      <h3>The time line</h3>
      <TimeLine answer={answer} series={series} choice={choice} />
      <h3>The passes</h3>
      <PassTable evidence={evidence} unit={planter.unit} choice={choice} />
      <h3>The areas</h3>
      <Areas answer={answer} />
      <h3>What was observed</h3>
      {report.observations.length === 0 ? (
        <p>Nothing stood out.</p>
      ) : (
        <ul class="observations">
          {report.observations.map((o) => (
            <li key={o.id} class={choice.marks.observations.has(o.id) ? 'chosen' : ''}>
              {o.says}
              {o.n > 1 && (
                <span class="quiet">
                  {' '}
                  Measured {countText(o.n, 'time')}; shows in {shareText(o.share)} of them.
                </span>
              )}
            </li>
          ))}
        </ul>
      )}
    </Part>
  );
}

/** The recorded sections for whoever cannot point at a drawing. */
function SectionButtons({ count, choice }: { count: number; choice: Choice }) {
  if (count === 0) return null;
  return (
    <fieldset class="choice sections noprint">
      <legend>Mark a section</legend>
      {Array.from({ length: count }, (_, s) => (
        <button
          type="button"
          class="passbutton"
          key={s}
          aria-label={`Recorded section ${s + 1}`}
          aria-pressed={choice.marks.sections.has(s)}
          onClick={() => choice.choose({ kind: 'section', section: s })}
        >
          {s + 1}
        </button>
      ))}
    </fieldset>
  );
}

function Seams({ answer }: { answer: Answer }) {
  const facts = seamFacts(answer.report, answer.planter.unit);
  if (facts.length === 0) return <p>{NO_SEAMS}</p>;
  return (
    <dl class="facts">
      {facts.map(([word, says]) => (
        <Fragment key={word}>
          <dt>{word}</dt>
          <dd>{says}</dd>
        </Fragment>
      ))}
    </dl>
  );
}

function Areas({ answer }: { answer: Answer }) {
  return (
    <Scroll name="Areas">
      <table class="areas">
        <thead>
          <tr>
            <th scope="col">Area</th>
            <th scope="col" class="num">
              Size
            </th>
            <th scope="col">What it is</th>
          </tr>
        </thead>
        <tbody>
          {areaRows(answer.report, answer.planter.unit).map(([name, size, what]) => (
            <tr key={name}>
              <th scope="row">{name}</th>
              <td class="num">{size}</td>
              <td>{what}</td>
            </tr>
          ))}
        </tbody>
      </table>
      <p class="quiet after-table">Check: {areaCheck(answer.report)}.</p>
    </Scroll>
  );
}
