import { areaOf, measure } from '../coverage/index.ts';
import type { Lattice, Shapes } from '../geometry/shapes.ts';
import { extentOf, planeFor } from '../plane/index.ts';
import type { Note } from '../shared/messages.ts';
import { RING_KINDS } from './nesting.ts';
import type { Built } from './rings.ts';
import type { InvalidRings } from './types.ts';

/**
 * A ring that crosses itself or another one for less than this share of the record's area has a misplaced corner, as outlines of passes have in
 * turns: whatever the rule, the area is the same to 1 %.
 */
const SLIP = 0.01;

/** Two ways of summing the area of the same ground differ by less than this, relative. */
const SAME = 1e-9;

const WORDS: Readonly<Record<InvalidRings['kind'], string>> = {
  'crosses-itself': 'have a ring that crosses itself; it covers every part that it encloses an odd number of times',
  'hole-crosses':
    'have a hole that crosses another ring; it removes only the ground that it shares with its outer ring',
  'parts-overlap': 'have parts that overlap; ground under several of them counts once',
  'ring-repeated': 'hold a ring twice; it counts once',
  'hole-outside': 'have a hole outside its outer ring; it counts as separate ground',
  'hole-in-hole': 'have a hole inside another hole; it counts as ground again',
};

/**
 * The records with invalid rings by kind, with their area as it is used, and a note for each kind. A ring that only touches itself or another one
 * is not counted: no rule changes its area.
 */
export function findInvalid(
  shapes: Shapes,
  lattice: Lattice,
  built: Pick<Built, 'suspects' | 'keep'>,
  source: string,
  notes: Note[],
): InvalidRings[] {
  const { suspects, keep } = built;
  if (suspects.length === 0) return [];
  const part = pick(
    shapes,
    suspects.map((s) => s.shape),
  );
  const { density } = planeFor(lattice, extentOf(shapes));
  const { areaM2 } = measure(part, density);
  // By the direction of the rings: outer ones less holes. Where that equals the covered area, nothing crosses.
  const plainM2 = areaOf(
    { xy: Float64Array.from(part.xy), ringStart: part.ringStart, polygonStart: part.shapeStart },
    density,
  );
  const found = new Map<InvalidRings['kind'], InvalidRings>();
  suspects.forEach(({ shape, kind }, i) => {
    const decided = kind === 'crosses-itself' || kind === 'hole-crosses' || kind === 'parts-overlap';
    const hangsM2 = Math.abs(Math.abs(plainM2[i]) - areaM2[i]);
    if (decided && hangsM2 <= SAME * areaM2[i]) return;
    const first = keep[shape] + 1;
    const one = found.get(kind) ?? { kind, count: 0, firstRecord: first, areaM2: 0, doubtful: 0, doubtfulM2: 0 };
    one.count++;
    one.areaM2 += areaM2[i];
    if (!decided || hangsM2 > SLIP * areaM2[i]) {
      one.doubtful++;
      one.doubtfulM2 += areaM2[i];
    }
    found.set(kind, one);
  });
  const list = RING_KINDS.flatMap((kind) => found.get(kind) ?? []);
  for (const { kind, count, firstRecord, areaM2: m2 } of list) {
    notes.push({
      code: `ring-${kind.replace(/^ring-/, '')}`,
      sentence: `${count} record(s) of ${areaText(m2)} ${WORDS[kind]}.`,
      place: { file: source, record: firstRecord },
      todo: 'Look at the record in a map viewer.',
    });
  }
  return list;
}

function areaText(m2: number): string {
  return m2 < 100 ? `${m2.toFixed(1)} m²` : `${Math.round(m2)} m²`;
}

/** The shapes in `which`, unchanged. */
function pick(shapes: Shapes, which: readonly number[]): Shapes {
  const { ringStart, shapeStart } = shapes;
  let points = 0;
  let rings = 0;
  for (const i of which) {
    rings += shapeStart[i + 1] - shapeStart[i];
    points += ringStart[shapeStart[i + 1]] - ringStart[shapeStart[i]];
  }
  const xy = new Int32Array(2 * points);
  const outRing = new Uint32Array(rings + 1);
  const outShape = new Uint32Array(which.length + 1);
  const tangled = new Map<number, Int32Array>();
  let at = 0;
  let ring = 0;
  which.forEach((i, n) => {
    for (let r = shapeStart[i]; r < shapeStart[i + 1]; r++) {
      xy.set(shapes.xy.subarray(2 * ringStart[r], 2 * ringStart[r + 1]), 2 * at);
      at += ringStart[r + 1] - ringStart[r];
      outRing[++ring] = at;
    }
    outShape[n + 1] = ring;
    const roles = shapes.tangled?.get(i);
    if (roles) tangled.set(n, roles);
  });
  return { xy, ringStart: outRing, shapeStart: outShape, tangled };
}
