import type { Answer } from '../../core/answer.ts';
import { gapText, onScale, seamChartOf, seamMark, signedGap } from '../../core/report/index.ts';
import { Scroll } from '../parts/scroll.tsx';
import type { Choice } from '../selection.ts';
import { useWidth } from './width.ts';

const SIDE = 64;
const TOP = 16;
const PLOT = 200;
const HEIGHT = TOP + PLOT + 58;

interface Props {
  answer: Answer;
  choice: Choice;
}

/** One mark per seam in planting order: as planted (filled), as recorded (hollow), with the tolerance as a band. */
export function SeamChart({ answer, choice }: Props) {
  const { unit } = answer.planter;
  const { seams, reachM: reach, gridM, toleranceM, says, caption } = seamChartOf(answer.report, answer.evidence, unit);
  const [ref, width] = useWidth(900);
  const w = Math.max(width, Math.min(seams.length * 12 + 2 * SIDE, 2400));
  const x = (i: number): number => SIDE + ((i + 0.5) / seams.length) * (w - SIDE - 20);
  const y = (m: number): number => TOP + PLOT / 2 - (onScale(m, reach) / reach) * (PLOT / 2);
  const reachPx = Math.min(24, (w - SIDE - 20) / Math.max(1, seams.length));
  if (seams.length === 0) return <p>No seam could be measured both as recorded and as planted.</p>;
  return (
    <figure class="drawing">
      <Scroll name="Chart of the seams" inner={ref}>
        <svg width={w} height={HEIGHT} viewBox={`0 0 ${w} ${HEIGHT}`} role="img" aria-label={says} class="seamchart">
          <rect
            class="tolerance"
            x={SIDE}
            y={y(toleranceM)}
            width={w - SIDE - 20}
            height={y(-toleranceM) - y(toleranceM)}
          />
          {gridM.map((m) => (
            <g key={m} class="grid">
              <path d={`M${SIDE} ${y(m)}H${w - 20}`} />
              <text x={SIDE - 8} y={y(m) + 5} text-anchor="end">
                {signedGap(m, unit)}
              </text>
            </g>
          ))}
          {seams.map((s, i) => (
            // biome-ignore lint/a11y/noStaticElementInteractions: the table of passes offers the same choice to the keyboard.
            <g
              key={`${s.passA} ${s.passB} ${i}`}
              class={choice.marks.seams.has(answer.evidence.seams.indexOf(s)) ? 'seam chosen' : 'seam'}
              data-seam={`${s.passA} ${s.passB}`}
              onClick={() => choice.choose({ kind: 'seam', passA: s.passA, passB: s.passB })}
            >
              <title>{`Pass ${s.passA} and ${s.passB}: planted ${signedGap(s.plantedM, unit)}, recorded ${signedGap(s.recordedM, unit)}`}</title>
              <rect class="reach" x={x(i) - reachPx / 2} y={TOP} width={reachPx} height={PLOT} />
              <path class="stem" d={`M${x(i)} ${y(s.recordedM)}V${y(s.plantedM)}`} />
              <circle class="recorded" cx={x(i)} cy={y(s.recordedM)} r={7} />
              <path class="planted" d={seamMark(s, x(i), y(s.plantedM))} />
            </g>
          ))}
          <g class="label">
            <text x={w - 24} y={TOP + 14} text-anchor="end">
              gap
            </text>
            <text x={w - 24} y={TOP + PLOT - 6} text-anchor="end">
              overlap
            </text>
            <text x={w - 24} y={y(toleranceM) - 5} text-anchor="end">
              {`tolerance ${gapText(toleranceM, unit)}`}
            </text>
          </g>
          <g class="key">
            <circle class="recorded" cx={SIDE + 8} cy={HEIGHT - 34} r={7} />
            <text x={SIDE + 22} y={HEIGHT - 29}>
              as recorded
            </text>
            <path class="planted" d={`M${SIDE + 123} ${HEIGHT - 39}h10v10h-10z`} />
            <text x={SIDE + 140} y={HEIGHT - 29}>
              as planted
            </text>
          </g>
          <text class="axis" x={SIDE} y={HEIGHT - 8}>
            seams in planting order
          </text>
        </svg>
      </Scroll>
      <figcaption>{caption}</figcaption>
    </figure>
  );
}
