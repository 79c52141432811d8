/** @jsxImportSource preact */
import type { Answer } from '../../answer.ts';
import { countText } from '../numbers.ts';
import { seamLines } from '../seamlines.ts';
import { seamStates } from '../seamstates.ts';

const WIDE = 330;
const HIGH = 190;

/** Ground shown from side to side, meters: 150 ft or 45 m, so that two maps can be compared on one scale and a row gap shows. */
export function sketchSpanM(unit: Answer['planter']['unit']): number {
  return unit === 'in' ? 45.72 : 45;
}

/** The middle of a map from above: passes as strips of their recorded width, the seams that the planter left between them: a small vector picture. */
export function Sketch({ answer, name }: { answer: Answer; name: string }) {
  const { evidence, planter } = answer;
  const [ex, ny] = evidence.stepsPerMeter;
  const lines = seamLines(evidence);
  const middle = middleOf(
    lines[evidence.seams.length >> 1]?.[0] ?? evidence.passes[evidence.passes.length >> 1]?.track,
  );
  if (!middle) return <p class="quiet">The map shows no passes.</p>;
  const scale = WIDE / sketchSpanM(planter.unit);
  const px = (x: number): number => WIDE / 2 + ((x - middle[0]) / ex) * scale;
  const py = (y: number): number => HIGH / 2 - ((y - middle[1]) / ny) * scale;
  /** Seams and passes near the picture. */
  const path = (xy: ArrayLike<number>): string => {
    let d = '';
    let out = true;
    for (let i = 0; i < xy.length; i += 2) {
      const [x, y] = [px(xy[i]), py(xy[i + 1])];
      const near = Math.abs(x - WIDE / 2) < 2 * WIDE && Math.abs(y - HIGH / 2) < 2 * WIDE;
      if (near) d += `${out ? 'M' : 'L'}${x.toFixed(1)} ${y.toFixed(1)}`;
      out = !near;
    }
    return d;
  };
  const states = seamStates(answer, 'planted');
  const off = states.filter((state) => state !== 'fine').length;
  return (
    <svg
      class="sketch"
      viewBox={`0 0 ${WIDE} ${HIGH}`}
      role="img"
      aria-label={`${name}: ${countText(evidence.passes.length, 'pass', 'passes')}; ${off} of ${countText(evidence.seams.length, 'seam')} open or planted twice.`}
    >
      {evidence.passes.map((p) => (
        <path
          key={p.number}
          class={p.number % 2 ? 'pass' : 'pass other'}
          d={path(p.track)}
          stroke-width={(p.recordedWidthM * scale).toFixed(1)}
        />
      ))}
      {evidence.seams.map((s, i) =>
        states[i] !== 'fine'
          ? lines[i].map((l) => (
              <path
                key={`${s.passA} ${s.passB} ${l[0]}`}
                class={states[i]}
                d={path(l)}
                stroke-width={Math.max(1, Math.abs(s.plantedM) * scale).toFixed(1)}
              />
            ))
          : [],
      )}
    </svg>
  );
}

function middleOf(xy: ArrayLike<number> | undefined): [number, number] | null {
  if (!xy || xy.length < 2) return null;
  const i = 2 * (xy.length >> 2);
  return [xy[i], xy[i + 1]];
}
