import { useState } from 'preact/hooks';
import type { Evidence, PassDrawing, SeamDrawing } from '../../core/answer.ts';
import type { Unit } from '../../core/planter/types.ts';
import { Scroll } from '../../core/report/draw/index.ts';
import { clockText, countText, distanceText, gapText, signedGap } from '../../core/report/index.ts';
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
  const timed = passes.some((p) => p.startMs !== null);
  // A pass selected elsewhere is always in the table.
  const shown = all ? passes : passes.filter((p, i) => i < FIRST || isOne(p.number, choice));
  return (
    <>
      <Scroll name="Table of passes">
        <table>
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
              {timed && <th scope="col">Start, map's clock</th>}
            </tr>
          </thead>
          <tbody>
            {shown.map((p) => (
              <Row key={p.number} pass={p} seams={seams} unit={unit} timed={timed} choice={choice} />
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
  choice: Choice;
}

function Row({ pass, seams, unit, timed, choice }: RowProps) {
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
      <td class="num">{pass.bars}</td>
      <td class="num">{distanceText(pass.lengthM, unit)}</td>
      <td class="num">{Math.round(pass.headingDeg)}°</td>
      <td class="num">{gapText(pass.recordedWidthM, unit)}</td>
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
      {timed && <td>{pass.startMs === null ? '' : clockText(pass.startMs)}</td>}
    </tr>
  );
}

/** One of the few passes that a selected pass or seam marks; a diagnosis may mark them all. */
function isOne(pass: number, { selection, marks }: Choice): boolean {
  return (selection.kind === 'pass' || selection.kind === 'seam') && marks.passes.has(pass);
}
