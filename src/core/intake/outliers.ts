import type { Note } from '../shared/messages.ts';
import type { Pace } from './pace.ts';
import type { Staging } from './staging.ts';
import type { Misfit } from './types.ts';

/** With fewer records nothing is usual. */
const LEAST = 12;
/** Records sampled to learn what is usual. */
const SAMPLE = 4000;
/** Up to this part of the map, or `FEW`, records are skipped. */
const RARE = 0.01;
const FEW = 3;
/** Limit of centers compared in the search for records under another one. */
const BUDGET = 100_000_000;
const M_PER_DEGREE = 111_195;

/** Why a record does not fit the others, in the words of the note. */
const WORDS: Readonly<Record<Misfit['kind'], [string, string]>> = {
  'far-corner': ['reach far out of the field', 'Look at the record in a map viewer: a corner of it is wrong.'],
  spike: [
    'reach across several other records and are many times as long as the usual record',
    'Look at the record in a map viewer: a corner of it may be wrong. Its area is in the sums.',
  ],
  'far-away': [
    'lie far out of the field',
    'Look at the record in a map viewer: it may be out of place. Its area is in the sums.',
  ],
  'off-track': [
    'lie far from the records logged just before and after them, which are next to each other',
    'Look at the record in a map viewer: it may be out of place. Its area is in the sums.',
  ],
};

/**
 * Compares every used record with the others: its reach, the records under it, its place, and the places of the records before and after it. A record with a corner far out of
 * the field is skipped before it spoils the middle and the extent of the map; what is odd within the field is used and noted. Headland corners,
 * long strips and maps of mixed records do not lie over other records, or are too many to be misfits.
 *
 * Areas are by the shoelace in degrees, good to 1 % of the record. About 20 ns per point and 40 bytes per record.
 */
export async function findMisfits(staging: Staging, file: string, notes: Note[], pace: Pace): Promise<Misfit[]> {
  const usual = usualRecord(staging);
  if (usual === null) return [];
  const far: number[] = [];
  const long: number[] = [];
  const away: number[] = [];
  const center = new Float64Array(2 * staging.records).fill(Number.NaN);
  for (let r = 0; r < staging.records; r++) {
    if (staging.status[r] !== 0) continue;
    const box = boxOf(staging, r);
    center[2 * r] = (box[0] + box[2]) / 2;
    center[2 * r + 1] = (box[1] + box[3]) / 2;
    const reach = usual.meters(box[2] - box[0], box[3] - box[1]);
    const out = usual.outside(box);
    if (reach > 8 * usual.reachM && out > Math.max(200, usual.fieldM)) far.push(r);
    else if (reach > 3 * usual.reachM) long.push(r);
    else if (out > Math.max(2000, 3 * usual.fieldM)) away.push(r);
    if (pace.add(4 * (staging.ringStart[staging.recordStart[r + 1]] - staging.ringStart[staging.recordStart[r]])))
      await pace.rest();
  }
  const misfits: Misfit[] = [];
  const report = (kind: Misfit['kind'], records: readonly number[], used: boolean): void => {
    if (records.length === 0) return;
    let areaM2 = 0;
    for (const r of records) areaM2 += areaOf(staging, r, usual);
    if (!used) for (const r of records) staging.skip(r, 'a corner far out of the field');
    misfits.push({ kind, used, count: records.length, firstRecord: records[0] + 1, areaM2 });
    const [says, todo] = WORDS[kind];
    notes.push({
      code: `record-${kind}`,
      sentence: `${records.length} record(s) of ${Math.round(areaM2)} m² ${says}${kind !== 'far-corner' ? '' : used ? ', too many to be skipped' : ' and were skipped'}.`,
      place: { file, record: records[0] + 1 },
      todo,
    });
  };
  report('far-corner', far, far.length > Math.max(FEW, RARE * usual.used));
  // Where every tenth record is long, long records are usual on this map.
  report('spike', 10 * long.length > usual.used ? [] : overOthers(staging, long, center), true);
  report('far-away', away, true);
  report('off-track', offTrack(staging, usual, center, new Set([...far, ...long, ...away])), true);
  return misfits;
}

interface Usual {
  /** Records that are used. */
  used: number;
  /** The reach that three records of four stay below, meters. */
  reachM: number;
  /** The longer side of the box in which nearly all records have their middle, meters. */
  fieldM: number;
  meters(dLon: number, dLat: number): number;
  /** How far a box of degrees reaches out of that field, meters. */
  outside(box: readonly number[]): number;
  m2PerSquareDegree: number;
}

/** Of rising values. */
const quantile = (v: readonly number[], q: number): number => v[Math.floor(q * (v.length - 1))];

function usualRecord(staging: Staging): Usual | null {
  const reach: number[] = [];
  const x: number[] = [];
  const y: number[] = [];
  let used = 0;
  for (let r = 0; r < staging.records; r++) if (staging.status[r] === 0) used++;
  if (used < LEAST) return null;
  const every = Math.max(1, Math.floor(staging.records / SAMPLE));
  for (let r = 0; r < staging.records; r += every) {
    if (staging.status[r] !== 0) continue;
    const box = boxOf(staging, r);
    x.push((box[0] + box[2]) / 2);
    y.push((box[1] + box[3]) / 2);
  }
  if (x.length < LEAST / 2) return null;
  x.sort((a, b) => a - b);
  y.sort((a, b) => a - b);
  const perLon = M_PER_DEGREE * Math.cos((quantile(y, 0.5) * Math.PI) / 180);
  const meters = (dx: number, dy: number): number => Math.max(Math.abs(dx) * perLon, Math.abs(dy) * M_PER_DEGREE);
  for (let r = 0; r < staging.records; r += every) {
    if (staging.status[r] !== 0) continue;
    const box = boxOf(staging, r);
    reach.push(meters(box[2] - box[0], box[3] - box[1]));
  }
  reach.sort((a, b) => a - b);
  const reachM = quantile(reach, 0.75);
  const [x0, x1, y0, y1] = [quantile(x, 0.01), quantile(x, 0.99), quantile(y, 0.01), quantile(y, 0.99)];
  return {
    used,
    reachM,
    fieldM: meters(x1 - x0, y1 - y0),
    meters,
    outside: (box) =>
      Math.max(
        (x0 - box[0]) * perLon,
        (box[2] - x1) * perLon,
        (y0 - box[1]) * M_PER_DEGREE,
        (box[3] - y1) * M_PER_DEGREE,
      ) - reachM,
    m2PerSquareDegree: perLon * M_PER_DEGREE,
  };
}

function boxOf(staging: Staging, r: number): [number, number, number, number] {
  let [x0, y0, x1, y1] = [Infinity, Infinity, -Infinity, -Infinity];
  const to = staging.ringStart[staging.recordStart[r + 1]];
  for (let p = staging.ringStart[staging.recordStart[r]]; p < to; p++) {
    const x = staging.x(p);
    const y = staging.y(p);
    if (x < x0) x0 = x;
    if (x > x1) x1 = x;
    if (y < y0) y0 = y;
    if (y > y1) y1 = y;
  }
  return [x0, y0, x1, y1];
}

function areaOf(staging: Staging, r: number, usual: Usual): number {
  let sum = 0;
  for (let k = staging.recordStart[r]; k < staging.recordStart[r + 1]; k++) {
    const from = staging.ringStart[k];
    const to = staging.ringStart[k + 1];
    let twice = 0;
    for (let p = from + 1; p + 1 < to; p++)
      twice +=
        (staging.x(p) - staging.x(from)) * (staging.y(p + 1) - staging.y(from)) -
        (staging.x(p + 1) - staging.x(from)) * (staging.y(p) - staging.y(from));
    sum += twice;
  }
  return (Math.abs(sum) / 2) * usual.m2PerSquareDegree;
}

/** The records of `long` that have the middles of three others or more on them. */
function overOthers(staging: Staging, long: readonly number[], center: Float64Array): number[] {
  const out: number[] = [];
  let spent = 0;
  for (const r of long) {
    const [x0, y0, x1, y1] = boxOf(staging, r);
    spent += center.length / 2;
    if (spent > BUDGET) break;
    let over = 0;
    for (let k = 0; k < staging.records && over < 3; k++) {
      const x = center[2 * k];
      const y = center[2 * k + 1];
      if (k === r || !(x > x0 && x < x1 && y > y0 && y < y1)) continue;
      spent += staging.ringStart[staging.recordStart[r + 1]] - staging.ringStart[staging.recordStart[r]];
      if (covers(staging, r, x, y)) over++;
    }
    if (over >= 3) out.push(r);
  }
  return out;
}

/** Records on either side in the file that a record may belong to: machines that log in turn are at most this far apart. */
const NEIGHBORS = 6;
/** Distances as multiples of the usual reach: between consecutive records, and of one that belongs to none of those around it. */
const FOLLOWS = 3;
const ALONE = 8;

/**
 * Records far from their neighbors in the file, while the one before and the one after are close to each other. Only where consecutive records
 * are usually close; `known` are those already reported.
 */
function offTrack(staging: Staging, usual: Usual, center: Float64Array, known: ReadonlySet<number>): number[] {
  const used: number[] = [];
  for (let r = 0; r < staging.records; r++) if (staging.status[r] === 0 && !known.has(r)) used.push(r);
  const apart = (i: number, k: number): number =>
    usual.meters(center[2 * used[i]] - center[2 * used[k]], center[2 * used[i] + 1] - center[2 * used[k] + 1]) /
    usual.reachM;
  let follow = 0;
  for (let i = 1; i < used.length; i++) if (apart(i - 1, i) <= FOLLOWS) follow++;
  if (follow < 0.9 * used.length) return [];
  const out: number[] = [];
  for (let i = 1; i + 1 < used.length; i++) {
    if (apart(i, i - 1) <= ALONE || apart(i, i + 1) <= ALONE || apart(i - 1, i + 1) > FOLLOWS) continue;
    let alone = true;
    for (let k = Math.max(0, i - NEIGHBORS); k <= Math.min(used.length - 1, i + NEIGHBORS); k++)
      if (k !== i && apart(i, k) <= ALONE) alone = false;
    if (alone) out.push(used[i]);
  }
  return out;
}

function covers(staging: Staging, r: number, x: number, y: number): boolean {
  let odd = false;
  for (let k = staging.recordStart[r]; k < staging.recordStart[r + 1]; k++) {
    const to = staging.ringStart[k + 1];
    for (let p = staging.ringStart[k], q = to - 1; p < to; q = p++) {
      const py = staging.y(p);
      const qy = staging.y(q);
      if (py > y !== qy > y && x < ((staging.x(q) - staging.x(p)) * (y - py)) / (qy - py) + staging.x(p)) odd = !odd;
    }
  }
  return odd;
}
