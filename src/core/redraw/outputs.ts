import type { Polygons } from '../coverage/index.ts';
import type { Shapes } from '../geometry/shapes.ts';
import type { Done, Piece } from './bars.ts';
import { NOTHING_M2 } from './noise.ts';

/** Why a record lost ground to one of a later day. */
const REPLACED = 'planted again on a later day; the later record is kept';

/** One record of the rebuilt map. */
export interface Output {
  /** Its pieces, by number. */
  pieces: number[];
  done: Done;
  why: string;
  /** Records (0-based) that it comes from, the one that gives the attributes first. */
  sources: number[];
  /** m²: of its share of its sources; cut away as covered before; of what it is now. */
  inM2: number;
  cutM2: number;
  outM2: number;
  /** Polygons in lattice steps; null: the shape of its one piece, unchanged. */
  rings: Polygons | null;
}

/** Group of each piece: itself, or its pass. Pieces without a pass are groups of their own. */
export function groupsOf(pieces: readonly Piece[], by: 'section' | 'pass'): Uint32Array {
  const out = new Uint32Array(pieces.length);
  for (let i = 1; i < pieces.length; i++) {
    const same = by === 'pass' && pieces[i].pass >= 0 && pieces[i].pass === pieces[i - 1].pass;
    out[i] = out[i - 1] + (same ? 0 : 1);
  }
  return out;
}

export interface Measured {
  /** m² of each record of the map, and of each piece alone. */
  recordM2: Float64Array;
  pieceM2: Float64Array;
  /** What each group adds to the ones before it, m² and as polygons (null: its shape, unchanged). */
  addsM2: Float64Array;
  /** Of what each group lost, the ground that records of a later day took, m². */
  replacedM2: Float64Array;
  rings: (Polygons | null)[];
}

/**
 * The output records in the order of the input's, and what covered ground left nothing of. `keepsShape` says of a record whether its rings are
 * a valid polygon unchanged, `uncut` of a group whether nothing is taken off (rule 7).
 */
export function outputs(
  pieces: readonly Piece[],
  group: Uint32Array,
  m: Measured,
  keepsShape: (record: number) => boolean,
  uncut: (group: number) => boolean,
): Output[] {
  const out: Output[] = [];
  for (let first = 0; first < pieces.length; ) {
    const g = group[first];
    const list: number[] = [];
    while (first < pieces.length && group[first] === g) list.push(first++);
    let inM2 = 0;
    let alone = 0;
    const sources: number[] = [];
    const seen = new Set<number>();
    for (const i of list) {
      alone += m.pieceM2[i];
      pieces[i].sources.forEach((r, k) => {
        inM2 += pieces[i].shares[k] * m.recordM2[r];
        if (!seen.has(r)) sources.push(r);
        seen.add(r);
      });
    }
    const one = list.length === 1 ? pieces[list[0]] : null;
    const whole = one !== null && (m.rings[g] === null || uncut(g));
    const outM2 = whole ? alone : m.addsM2[g];
    const cutM2 = Math.max(0, alone - outM2);
    const covered = cutM2 > NOTHING_M2;
    // A record that stays as it is has the area that it had, to the last digit.
    const same = whole && one.keeps >= 0;
    const asIs = whole || (one !== null && !covered && (one.keeps < 0 || keepsShape(one.keeps)));
    let { done, why } = one ?? commonest(pieces, list, m.pieceM2);
    const later = m.replacedM2[g] > (alone - outM2) / 2 && covered;
    if (outM2 <= NOTHING_M2) {
      done = later ? 'replaced' : 'removed';
      why = later ? REPLACED : 'all of it was planted before';
    } else if (done === 'kept' && covered) {
      done = 'cut';
      why = later ? REPLACED : 'overlapped ground planted before';
    } else if (done === 'kept' && one !== null && !asIs) {
      done = 'cut';
      why = 'its outline crossed itself and was cleaned';
    }
    out.push({
      pieces: list,
      done,
      why,
      sources,
      inM2,
      cutM2,
      outM2: outM2 <= NOTHING_M2 ? 0 : same ? inM2 : asIs ? alone : outM2,
      rings: asIs ? null : m.rings[g],
    });
  }
  const order = out.map((o, i) => ({ o, i }));
  order.sort((a, b) => a.o.sources[0] - b.o.sources[0] || a.i - b.i);
  return order.map(({ o }) => o);
}

/** Of several pieces dissolved into one: what was done to most of the ground, where anything was. */
function commonest(pieces: readonly Piece[], list: number[], pieceM2: Float64Array): { done: Done; why: string } {
  const by = new Map<Done, { area: number; why: string }>();
  for (const i of list) {
    const { done, why } = pieces[i];
    const e = by.get(done) ?? { area: 0, why };
    e.area += pieceM2[i];
    by.set(done, e);
  }
  const changed = [...by].filter(([d]) => d !== 'kept').sort((a, b) => b[1].area - a[1].area)[0];
  return changed ? { done: changed[0], why: changed[1].why } : { done: 'kept', why: by.get('kept')!.why };
}

/** One shape as polygons: outer rings with the holes that lie in them. */
export function polygonsOf(shapes: Shapes, i: number): Polygons {
  const { xy, ringStart, shapeStart } = shapes;
  const outer: number[] = [];
  const holes: number[] = [];
  for (let r = shapeStart[i]; r < shapeStart[i + 1]; r++)
    (twiceArea(xy, ringStart[r], ringStart[r + 1]) >= 0 ? outer : holes).push(r);
  const of = outer.map((r) => [r]);
  for (const h of holes) {
    const at = outer.findIndex((r) =>
      within(xy, ringStart[r], ringStart[r + 1], xy[2 * ringStart[h]], xy[2 * ringStart[h] + 1]),
    );
    (of[at] ?? of[0])?.push(h);
  }
  const points: number[] = [];
  const starts = [0];
  const polygonStart = [0];
  for (const rings of of) {
    for (const r of rings) {
      for (let k = 2 * ringStart[r]; k < 2 * ringStart[r + 1]; k++) points.push(xy[k]);
      starts.push(points.length / 2);
    }
    polygonStart.push(starts.length - 1);
  }
  return {
    xy: Float64Array.from(points),
    ringStart: Uint32Array.from(starts),
    polygonStart: Uint32Array.from(polygonStart),
  };
}

function twiceArea(xy: ArrayLike<number>, from: number, to: number): number {
  let a = 0;
  const [x0, y0] = [xy[2 * from], xy[2 * from + 1]];
  for (let k = from + 1; k + 1 < to; k++)
    a += (xy[2 * k] - x0) * (xy[2 * k + 3] - y0) - (xy[2 * k + 2] - x0) * (xy[2 * k + 1] - y0);
  return a;
}

function within(xy: ArrayLike<number>, from: number, to: number, x: number, y: number): boolean {
  let odd = false;
  for (let a = from, b = to - 1; a < to; b = a++) {
    const [ay, by] = [xy[2 * a + 1], xy[2 * b + 1]];
    if (ay > y !== by > y && x < ((xy[2 * b] - xy[2 * a]) * (y - ay)) / (by - ay) + xy[2 * a]) odd = !odd;
  }
  return odd;
}
