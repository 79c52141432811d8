import type { SeamDrawing } from '../../core/answer.ts';
import type { Unit } from '../../core/planter/types.ts';
import { Scroll } from '../parts/scroll.tsx';
import { countText, gapNumber, gapText, gapUnit, signedGap } from '../units.ts';
import { useWidth } from './width.ts';

const SIDE = 64;
const TOP = 16;
const PLOT = 200;
const HEIGHT = TOP + PLOT + 50;
/** A seam is worth a diagnosis beyond this, metres (twice the usual pass-to-pass accuracy, never less). */
const TOLERANCE_M = 0.05;

interface Props {
  seams: readonly SeamDrawing[];
  unit: Unit;
  selected: number;
  select(pass: number): void;
}

/** One mark per seam in driving order: as planted (filled), as recorded (hollow), with the tolerance as a band. */
export function SeamChart({ seams: all, unit, selected, select }: Props) {
  const seams = all.filter((s) => Number.isFinite(s.recordedM) && Number.isFinite(s.plantedM));
  const [ref, width] = useWidth(900);
  const w = Math.max(width, Math.min(seams.length * 12 + 2 * SIDE, 2400));
  const values = seams.flatMap((s) => [s.recordedM, s.plantedM]);
  const reach = niceReach(Math.max(2 * TOLERANCE_M, ...values.map(Math.abs)), unit);
  const x = (i: number): number => SIDE + ((i + 0.5) / seams.length) * (w - SIDE - 20);
  const y = (m: number): number => TOP + PLOT / 2 - (m / reach) * (PLOT / 2);
  const beyond = seams.filter((s) => Math.abs(s.plantedM) > TOLERANCE_M).length;
  if (seams.length === 0) return <p>No seam could be measured both as recorded and as planted.</p>;
  const says = `${countText(seams.length, 'seam')}; ${beyond} as planted lie outside the tolerance of ${gapText(TOLERANCE_M, unit)} either way.`;
  return (
    <figure class="drawing">
      <Scroll name="Chart of the seams" inner={ref}>
        <svg width={w} height={HEIGHT} viewBox={`0 0 ${w} ${HEIGHT}`} role="img" aria-label={says} class="seamchart">
          <rect
            class="tolerance"
            x={SIDE}
            y={y(TOLERANCE_M)}
            width={w - SIDE - 20}
            height={y(-TOLERANCE_M) - y(TOLERANCE_M)}
          />
          {[reach, reach / 2, 0, -reach / 2, -reach].map((m) => (
            <g key={m} class="grid">
              <path d={`M${SIDE} ${y(m)}H${w - 20}`} />
              <text x={SIDE - 8} y={y(m) + 5} text-anchor="end">
                {gapNumber(m, unit).replace('-', '\u2212')}
              </text>
            </g>
          ))}
          {seams.map((s, i) => (
            // biome-ignore lint/a11y/noStaticElementInteractions: the table of passes offers the same choice to the keyboard.
            <g
              key={`${s.passA} ${s.passB} ${i}`}
              class={selected === s.passA || selected === s.passB ? 'seam chosen' : 'seam'}
              onClick={() => select(s.passA)}
            >
              <title>{`Pass ${s.passA} and ${s.passB}: planted ${signedGap(s.plantedM, unit)}, recorded ${signedGap(s.recordedM, unit)}`}</title>
              <path class="stem" d={`M${x(i)} ${y(s.recordedM)}V${y(s.plantedM)}`} />
              <circle class="recorded" cx={x(i)} cy={y(s.recordedM)} r={7} />
              <path class="planted" d={mark(s, x(i), y(s.plantedM))} />
            </g>
          ))}
          <text class="axis" x={SIDE} y={HEIGHT - 12}>
            {`seams in driving order; ${gapUnit(unit)}, + a gap, \u2212 an overlap`}
          </text>
        </svg>
      </Scroll>
      <figcaption>
        Hollow circles: as recorded. Filled marks: as planted; a point to the right where two right sides meet, to the
        left where two left sides meet, a square where both passes went the same way. The band is the tolerance,{' '}
        {gapText(TOLERANCE_M, unit)} either way.
      </figcaption>
    </figure>
  );
}

function mark(s: SeamDrawing, x: number, y: number): string {
  if (s.facing === 'right-right') return `M${x - 4} ${y - 6}l9 6l-9 6z`;
  if (s.facing === 'left-left') return `M${x + 4} ${y - 6}l-9 6l9 6z`;
  return `M${x - 5} ${y - 5}h10v10h-10z`;
}

/** The next round number of inches or centimetres above `m`, in metres. */
function niceReach(m: number, unit: Unit): number {
  const one = unit === 'in' ? 0.0254 : 0.01;
  for (const step of [4, 10, 20, 40, 60, 100, 200, 400, 1000]) if (m <= step * one) return step * one;
  return m;
}
