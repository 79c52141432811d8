import type { Answer } from '../../core/answer.ts';
import { countText, seamLines } from '../../core/report/index.ts';

const WIDE = 330;
const HIGH = 190;
const EDGE = 10;
/** Points of a track that a sketch this small can show. */
const POINTS = 60;

/** The passes of a map as strips of their recorded width, the planted seams between them: a small vector picture. */
export function Sketch({ answer, name }: { answer: Answer; name: string }) {
  const { evidence, report } = answer;
  const [ex, ny] = evidence.stepsPerMetre;
  const xs: number[] = [];
  const ys: number[] = [];
  for (const p of evidence.passes)
    for (let i = 0; i < p.track.length; i += 2) {
      xs.push(p.track[i] / ex);
      ys.push(p.track[i + 1] / ny);
    }
  if (xs.length === 0) return <p class="quiet">The map tells no passes.</p>;
  const half = evidence.passes.reduce((m, p) => Math.max(m, p.recordedWidthM), 0) / 2;
  const box = (v: number[]): [number, number] => [
    v.reduce((a, b) => Math.min(a, b)) - half,
    v.reduce((a, b) => Math.max(a, b)) + half,
  ];
  const [x0, x1] = box(xs);
  const [y0, y1] = box(ys);
  const scale = Math.min((WIDE - 2 * EDGE) / (x1 - x0), (HIGH - 2 * EDGE) / (y1 - y0));
  const px = (x: number): string => (WIDE / 2 + (x / ex - (x0 + x1) / 2) * scale).toFixed(1);
  const py = (y: number): string => (HIGH / 2 - (y / ny - (y0 + y1) / 2) * scale).toFixed(1);
  const path = (xy: ArrayLike<number>): string => {
    const every = 2 * Math.max(1, Math.ceil(xy.length / 2 / POINTS));
    let d = '';
    for (let i = 0; i < xy.length; i += every) d += `${d ? 'L' : 'M'}${px(xy[i])} ${py(xy[i + 1])}`;
    return `${d}L${px(xy[xy.length - 2])} ${py(xy[xy.length - 1])}`;
  };
  const lines = seamLines(evidence);
  const { toleranceM } = report.seams;
  const off = evidence.seams.filter((s) => Math.abs(s.plantedM) > toleranceM).length;
  return (
    <svg
      class="sketch"
      viewBox={`0 0 ${WIDE} ${HIGH}`}
      role="img"
      aria-label={`${name}: ${countText(evidence.passes.length, 'pass', 'passes')}; ${off} of ${countText(evidence.seams.length, 'seam')} as planted outside the tolerance.`}
    >
      {evidence.passes
        .filter((p) => p.track.length >= 4)
        .map((p) => (
          <path
            key={p.number}
            class={p.number % 2 ? 'pass' : 'pass other'}
            d={path(p.track)}
            stroke-width={Math.max(0.8, p.recordedWidthM * scale)}
          />
        ))}
      {evidence.seams.map((s, i) =>
        Math.abs(s.plantedM) > toleranceM
          ? lines[i].map((l) => (
              <path
                key={`${s.passA} ${s.passB} ${l[0]}`}
                class={s.plantedM > 0 ? 'gap' : 'overlap'}
                d={path(l)}
                stroke-width={Math.max(1.6, Math.abs(s.plantedM) * scale)}
              />
            ))
          : [],
      )}
    </svg>
  );
}
