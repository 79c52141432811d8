import { HARMLESS } from '../core/account/index.ts';
import type { Answer } from '../core/answer.ts';
import type { Polygons } from '../core/coverage/index.ts';
import { PICTURE, type Picture } from './types.ts';

/** Most numbers of one kind in a picture; more would be too small to see. */
const MOST = 1600;

/** The field as a small picture, north up: covered ground, the way driven, and the account's gaps and overlaps by their cause. */
export function pictureOf({ report, evidence: e }: Pick<Answer, 'report' | 'evidence'>): Picture | null {
  let [x0, y0, x1, y1] = [Infinity, Infinity, -Infinity, -Infinity];
  for (let i = 0; i < e.covered.xy.length; i += 2) {
    x0 = Math.min(x0, e.covered.xy[i]);
    x1 = Math.max(x1, e.covered.xy[i]);
    y0 = Math.min(y0, e.covered.xy[i + 1]);
    y1 = Math.max(y1, e.covered.xy[i + 1]);
  }
  const [perEast, perNorth] = e.stepsPerMeter;
  const wide = Math.max((x1 - x0) / perEast, (y1 - y0) / perNorth);
  if (!(wide > 0)) return null;
  const scale = (PICTURE - 4) / wide;
  const px = (x: number): number => ((x - (x0 + x1) / 2) / perEast) * scale + PICTURE / 2;
  const py = (y: number): number => (((y0 + y1) / 2 - y) / perNorth) * scale + PICTURE / 2;
  const lines = (list: Iterable<ArrayLike<number>>, fewest: number): number[][] => thinned([...list], px, py, fewest);
  return {
    covered: lines(ringsOf(e.covered), 6),
    tracks: lines(
      e.passes.map((p) => p.track),
      4,
    ),
    ...account({ report, evidence: e }, (list) => lines(list, 6)),
  };
}

/** Rings of the account's lines, by their kind. */
function account(
  { report, evidence }: Pick<Answer, 'report' | 'evidence'>,
  lines: (rings: Float64Array[]) => number[][],
): Pick<Picture, 'setting' | 'open' | 'harmless'> {
  const rings = { setting: [] as Float64Array[], open: [] as Float64Array[], harmless: [] as Float64Array[] };
  report.account.forEach(({ cause }, i) => {
    const kind = cause === 'setting' ? 'setting' : HARMLESS.has(cause) ? 'harmless' : 'open';
    const polygons = evidence.account[i];
    if (polygons !== undefined) rings[kind].push(...ringsOf(polygons));
  });
  return { setting: lines(rings.setting), open: lines(rings.open), harmless: lines(rings.harmless) };
}

function* ringsOf(p: Polygons): Generator<Float64Array> {
  for (let r = 0; r + 1 < p.ringStart.length; r++) yield p.xy.subarray(2 * p.ringStart[r], 2 * p.ringStart[r + 1]);
}

/** Lines on whole steps, without coincident points; on ever coarser steps until they are few enough. */
function thinned(
  list: ArrayLike<number>[],
  px: (x: number) => number,
  py: (y: number) => number,
  fewest: number,
): number[][] {
  let out: number[][] = [];
  for (let step = 1; step <= 32; step *= 2) {
    out = [];
    let numbers = 0;
    for (const xy of list) {
      const line: number[] = [];
      for (let i = 0; i + 1 < xy.length; i += 2) {
        const x = Math.round(px(xy[i]) / step) * step;
        const y = Math.round(py(xy[i + 1]) / step) * step;
        const n = line.length;
        if (n >= 2 && line[n - 2] === x && line[n - 1] === y) continue;
        // Straight on along a grid line: the point before adds nothing.
        if (n >= 4 && ((line[n - 4] === x && line[n - 2] === x) || (line[n - 3] === y && line[n - 1] === y)))
          line.length = n - 2;
        line.push(x, y);
      }
      if (line.length >= fewest) out.push(line);
      numbers += line.length;
      if (numbers > 4 * MOST) break;
    }
    if (numbers <= MOST) return out;
  }
  return out.slice(0, MOST / 8);
}
