import { useState } from 'preact/hooks';
import type { Evidence } from '../../core/answer.ts';
import type { Unit } from '../../core/planter/types.ts';
import { Scroll } from '../../core/report/draw/index.ts';
import { clockText, countText, distanceText, lengthOr, signedGap } from '../../core/report/index.ts';
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
  if (passes.length === 0) return <p>The map holds no passes that can be told apart.</p>;
  const timed = passes.some((p) => p.startMs !== null);
  // A pass that was chosen elsewhere is always in the table.
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
            {shown.map((p) => {
              const mine = seams.filter((s) => s.passA === p.number || s.passB === p.number);
              return (
                <tr key={p.number} class={choice.marks.passes.has(p.number) ? 'chosen' : ''}>
                  <th scope="row">
                    <button
                      type="button"
                      class="passbutton"
                      aria-pressed={choice.marks.passes.has(p.number)}
                      onClick={() => choice.choose({ kind: 'pass', pass: p.number })}
                    >
                      {p.number}
                    </button>
                  </th>
                  <td class="num">{p.bars}</td>
                  <td class="num">{distanceText(p.lengthM, unit)}</td>
                  <td class="num">{Math.round(p.headingDeg)}°</td>
                  <td class="num">{lengthOr(p.recordedWidthM, unit)}</td>
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
                        with pass {seam.passA === p.number ? seam.passB : seam.passA}: {signedGap(seam.recordedM, unit)}{' '}
                        → {signedGap(seam.plantedM, unit)}
                      </button>
                    ))}
                  </td>
                  {timed && <td>{p.startMs === null ? '' : clockText(p.startMs)}</td>}
                </tr>
              );
            })}
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

/** One of the few that a choice of a pass or a seam marks; a diagnosis may mark them all. */
function isOne(pass: number, { selection, marks }: Choice): boolean {
  return (selection.kind === 'pass' || selection.kind === 'seam') && marks.passes.has(pass);
}
