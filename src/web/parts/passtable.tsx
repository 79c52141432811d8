import { useState } from 'preact/hooks';
import type { Evidence, PassDrawing, SeamDrawing } from '../../core/answer.ts';
import type { Unit } from '../../core/planter/types.ts';
import { Scroll } from '../../core/report/draw/index.ts';
import { clockText, countText, distanceText, gapText, signedGap } from '../../core/report/index.ts';
import { dayText } from '../../core/shared/dates.ts';
import type { Choice } from '../selection.ts';

const FIRST = 12;

interface Props {
  evidence: Evidence;
  unit: Unit;
  choice: Choice;
}

export function PassTable({ evidence, unit, choice }: Props) {
  const [all, setAll] = useState(false);
  const { passes, seams } = evidence;
  if (passes.length === 0) return <p>No separate passes were found in this map.</p>;
  const starts = passes.flatMap((p) => (p.startMs === null ? [] : [p.startMs]));
  const timed = starts.length > 0;
  // Where all passes began on one day, the head of the table names it.
  const day = timed && new Set(starts.map(dayText)).size === 1 ? starts[0] : null;
  // A pass selected elsewhere is always in the table.
  const shown = all ? passes : passes.filter((p, i) => i < FIRST || isOne(p.number, choice));
  return (
    <>
      <Scroll name="Table of passes">
        <table class="stacked passes">
          <thead>
            <tr>
              <th scope="col">Pass</th>
              <th scope="col" class="num">
                Bars
              </th>
              <th scope="col" class="num">
                Length
              </th>
              <th scope="col" class="num">
                Heading
              </th>
              <th scope="col" class="num">
                Recorded width
              </th>
              <th scope="col">Seam recorded → planted</th>
              {timed && <th scope="col">Start, {day === null ? '' : `${dayText(day)}, `}map's clock</th>}
            </tr>
          </thead>
          <tbody>
            {shown.map((p) => (
              <Row key={p.number} pass={p} seams={seams} unit={unit} timed={timed} day={day} choice={choice} />
            ))}
          </tbody>
        </table>
      </Scroll>
      {shown.length < passes.length && (
        <p class="printonly">
          {countText(passes.length - shown.length, 'more pass is', 'more passes are')} left out here. The sheet prints
          them all once all are shown on the screen.
        </p>
      )}
      {passes.length > FIRST && (
        <p class="noprint after-table">
          <button type="button" class="plain" onClick={() => setAll(!all)}>
            {all ? `Show the first ${FIRST} passes` : `Show all ${passes.length} passes`}
          </button>
        </p>
      )}
    </>
  );
}

interface RowProps {
  pass: PassDrawing;
  seams: readonly SeamDrawing[];
  unit: Unit;
  /** The table has a column of times. */
  timed: boolean;
  /** The one day of all passes, ms; null where there are several. */
  day: number | null;
  choice: Choice;
}

function startText(ms: number, day: number | null): string {
  return day === null ? clockText(ms) : clockText(ms).replace(`${dayText(ms)}, `, '');
}

function Row({ pass, seams, unit, timed, day, choice }: RowProps) {
  const mine = seams.filter((s) => s.passA === pass.number || s.passB === pass.number);
  return (
    <tr class={choice.marks.passes.has(pass.number) ? 'chosen' : ''}>
      <th scope="row">
        <button
          type="button"
          class="passbutton"
          aria-pressed={choice.marks.passes.has(pass.number)}
          onClick={() => choice.choose({ kind: 'pass', pass: pass.number })}
        >
          {pass.number}
        </button>
      </th>
      <td class="num" data-label="Bars">
        {pass.bars}
      </td>
      <td class="num" data-label="Length">
        {distanceText(pass.lengthM, unit)}
      </td>
      <td class="num" data-label="Heading">
        {Math.round(pass.headingDeg)}°
      </td>
      <td class="num" data-label="Width">
        {gapText(pass.recordedWidthM, unit)}
      </td>
      <td>
        {mine.length === 0 && '—'}
        {mine.map((seam) => (
          <button
            type="button"
            class="seambutton"
            key={`${seam.passA} ${seam.passB}`}
            aria-pressed={choice.marks.seams.has(seams.indexOf(seam))}
            onClick={() => choice.choose({ kind: 'seam', passA: seam.passA, passB: seam.passB })}
          >
            with pass {seam.passA === pass.number ? seam.passB : seam.passA}: {signedGap(seam.recordedM, unit)} →{' '}
            {signedGap(seam.plantedM, unit)}
          </button>
        ))}
      </td>
      {timed && <td data-label="Start">{pass.startMs === null ? '' : startText(pass.startMs, day)}</td>}
    </tr>
  );
}

/** One of the few passes that a selected pass or seam marks; a diagnosis may mark them all. */
function isOne(pass: number, { selection, marks }: Choice): boolean {
  return (selection.kind === 'pass' || selection.kind === 'seam') && marks.passes.has(pass);
}
