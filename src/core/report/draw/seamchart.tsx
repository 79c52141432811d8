/** @jsxImportSource preact */
import type { Answer, SeamDrawing } from '../../answer.ts';
import type { Unit } from '../../planter/types.ts';
import { place } from '../markup.ts';
import { signedGap } from '../numbers.ts';
import { onScale, seamChartOf, seamMark } from '../seamchart.ts';
import { type Choosing, Figure, onChoose } from './figure.tsx';

const SIDE = 64;
const END = 20;
const TOP = 16;
const PLOT = 200;
const HEIGHT = TOP + PLOT + 58;

interface Props {
  answer: Answer;
  /** Room, pixels; many seams take more. */
  width: number;
  choice?: Choosing;
}

/** One mark per seam in planting order: as planted (filled), as recorded (hollow), with the tolerance as a band. */
export function SeamChart({ answer, width, choice }: Props) {
  const { unit } = answer.planter;
  const { seams, reachM, gridM, toleranceM, says, caption } = seamChartOf(answer.report, answer.evidence, unit);
  if (seams.length === 0) return <p>No seam could be measured both as recorded and as planted.</p>;
  // Marks may touch where there are very many; a wider chart would only be a longer way to scroll.
  const w = Math.max(width, Math.min(seams.length * 12 + 2 * SIDE, 2400));
  const each = (w - SIDE - END) / seams.length;
  const y = (m: number): number => TOP + PLOT / 2 - (onScale(m, reachM) / reachM) * (PLOT / 2);
  return (
    <Figure name="Chart of the seams" kind="seamchart" width={w} height={HEIGHT} says={says} caption={caption}>
      <rect
        class="tolerance"
        x={SIDE}
        y={place(y(toleranceM))}
        width={w - SIDE - END}
        height={place(y(-toleranceM) - y(toleranceM))}
      />
      {gridM.map((m) => (
        <g key={m} class="grid">
          <path d={`M${SIDE} ${place(y(m))}H${w - END}`} />
          <text x={SIDE - 8} y={place(y(m) + 5)} text-anchor="end">
            {signedGap(m, unit)}
          </text>
        </g>
      ))}
      {seams.map((s, i) => (
        <Mark
          key={`${s.passA} ${s.passB} ${i}`}
          seam={s}
          chosen={choice?.marks.seams.has(answer.evidence.seams.indexOf(s)) === true}
          x={SIDE + (i + 0.5) * each}
          y={y}
          reach={Math.min(24, each)}
          unit={unit}
          {...(choice ? { choice } : {})}
        />
      ))}
      <g class="label">
        <text x={w - 24} y={TOP + 14} text-anchor="end">
          gap
        </text>
        <text x={w - 24} y={TOP + PLOT - 6} text-anchor="end">
          overlap
        </text>
      </g>
      <Key />
    </Figure>
  );
}

interface MarkProps {
  seam: SeamDrawing;
  chosen: boolean;
  x: number;
  y(m: number): number;
  /** Width of what a click may meet, pixels. */
  reach: number;
  unit: Unit;
  choice?: Choosing;
}

function Mark({ seam, chosen, x, y, reach, unit, choice }: MarkProps) {
  const { passA, passB, plantedM, recordedM } = seam;
  return (
    <g
      class={chosen ? 'seam chosen' : 'seam'}
      data-seam={`${passA} ${passB}`}
      {...onChoose(choice, { kind: 'seam', passA, passB })}
    >
      <title>{`Pass ${passA} and ${passB}: planted ${signedGap(plantedM, unit)}, recorded ${signedGap(recordedM, unit)}`}</title>
      {choice && <rect class="reach" x={place(x - reach / 2)} y={TOP} width={place(reach)} height={PLOT} />}
      <path class="stem" d={`M${place(x)} ${place(y(recordedM))}V${place(y(plantedM))}`} />
      <circle class="recorded" cx={place(x)} cy={place(y(recordedM))} r={7} />
      <path class="planted" d={seamMark(seam, x, y(plantedM))} />
    </g>
  );
}

function Key() {
  return (
    <>
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
    </>
  );
}
