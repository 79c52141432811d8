import { median, medianHalf95, robustSd } from '../geometry/stats.ts';
import type { End } from '../observe/index.ts';
import { type Facts, type Findings, NO_EFFECT, observe } from './facts.ts';
import { priorOf } from './settings/index.ts';
import { plural } from './words.ts';

/** Slopes at slanted edges scatter by this about 1, 0 and -1: bars are as long as the slants that show. */
const SLOPE_BLUR = 0.2;

/** How the places where sections switch follow a slanted edge: 1 each at its own place, 0 all together, -1 in mirrored order. */
interface Slant {
  slope: number;
  /** Standard error of the slope. */
  se: number;
  edges: number;
  passes: number[];
}

/** Over every beginning and stop where the edge of covered ground is slanted by more than a log interval across the planter. */
function slantOf(f: Facts): Slant | null {
  const groups = new Map<string, Map<number, End>>();
  for (const e of f.ends) {
    const key = `${e.pass} ${e.kind}`;
    let g = groups.get(key);
    if (!g) {
      g = new Map();
      groups.set(key, g);
    }
    // The first beginning and the last stop of each section bound the pass.
    if (!g.has(e.slot) || e.kind === 'stop') g.set(e.slot, e);
  }
  const list: { slope: number; weight: number; pass: number }[] = [];
  for (const g of groups.values()) {
    const ends = [...g.values()];
    if (ends.length < 3) continue;
    const sign = ends[0].kind === 'stop' ? 1 : -1;
    const along = ends.map((e) => sign * placeAlong(f, e));
    const edge = ends.map((e, i) => along[i] - e.overlapM);
    const bar = median(ends.map((e) => e.barM));
    if (Math.max(...edge) - Math.min(...edge) < 0.9 * bar) continue;
    const ma = along.reduce((x, v) => x + v, 0) / along.length;
    const me = edge.reduce((x, v) => x + v, 0) / edge.length;
    let cov = 0;
    let vari = 0;
    edge.forEach((v, i) => {
      cov += (along[i] - ma) * (v - me);
      vari += (v - me) ** 2;
    });
    list.push({ slope: cov / vari, weight: vari / (bar * bar), pass: ends[0].pass + 1 });
  }
  // A few slanted corners in a square field say nothing about its edges.
  if (list.length < 4 || list.length < 0.3 * groups.size) return null;
  // Longer slants tell more. The weighted middle one: a corner where two runs of the headland meet may give any slope.
  list.sort((x, y) => x.slope - y.slope);
  const half = list.reduce((x, v) => x + v.weight, 0) / 2;
  let sum = 0;
  const slope = list.find((v) => {
    sum += v.weight;
    return sum >= half;
  })!.slope;
  const se =
    medianHalf95(
      robustSd(
        list.map((v) => v.slope),
        slope,
      ),
      list.length,
    ) / 1.96;
  return { slope, se, edges: list.length, passes: [...new Set(list.map((v) => v.pass))].sort((x, y) => x - y) };
}

/** At slanted edges sections shut off one after the other; all at once means no section control, the other way round a mirrored order. */
export function diagnoseSlant(f: Facts, out: Findings): boolean {
  if (f.bands.segments.length !== 1 || f.bands.segments[0].bands.length < 3) return false;
  const s = slantOf(f);
  if (!s) return false;
  // Sections in order follow the edge with slope 1, all together with 0, in mirrored order with -1; quantised to bars, seldom exactly.
  const blur = Math.hypot(s.se, SLOPE_BLUR);
  const likely = (slope: number, prior: number): number => prior * Math.exp(-0.5 * ((s.slope - slope) / blur) ** 2);
  const off = likely(0, priorOf('section-control-off'));
  const mirrored = likely(-1, priorOf('section-order'));
  const all = off + mirrored + likely(1, 1);
  const together = off > mirrored;
  const sure = Math.max(off, mirrored) / all;
  if (sure < 0.75) return false;
  const id = observe(out, {
    kind: together ? 'double-coverage' : 'end-gap',
    says: `At ${plural(s.edges, 'slanted edge')} the sections shut off ${together ? 'all together instead of one after the other' : 'in the opposite order to the one in which they reach it'}.`,
    measuredM: null,
    expectedM: null,
    n: s.edges,
    share: 1,
    passes: s.passes,
  });
  out.diagnoses.push(
    together
      ? {
          setting: 'section-control-off',
          confidence: Math.min(0.97, sure),
          says: 'At slanted edges all sections start and stop together: section control was off, or the sections were not switched one by one.',
          check:
            'Look whether automatic section control is on and whether it knows the headland; then drive one pass into a slanted edge and watch the sections shut off one after the other.',
          because: [id],
          effect: NO_EFFECT,
        }
      : {
          setting: 'section-order',
          confidence: Math.min(0.97, sure),
          says: 'The sections shut off in mirrored order: section 1 is taken for the last one.',
          check:
            'Look at the order of the sections in the section setup and at the plugs of the section wiring: section 1 must be the leftmost facing travel. Switch section 1 alone and see which rows stop.',
          because: [id],
          effect: NO_EFFECT,
        },
  );
  return true;
}
/** Place of an end along travel, metres from the pass's first bar, on a straight line through the end's own bar. */
function placeAlong(f: Facts, e: End): number {
  const p = f.passes;
  const first = p.passStart[e.pass];
  const tx = -p.right[2 * e.bar + 1];
  const ty = p.right[2 * e.bar];
  return (
    (p.centre[2 * e.bar] - p.centre[2 * first]) * tx +
    (p.centre[2 * e.bar + 1] - p.centre[2 * first + 1]) * ty +
    e.alongM
  );
}
