import { makePointGrid } from '../geometry/grid.ts';
import { lengthOf } from '../geometry/length.ts';
import { Sets } from '../geometry/unionfind.ts';
import type { SideLinks } from './links.ts';
import type { Quads } from './quads.ts';
import { travelCosine, travelOf } from './travel.ts';
import type { Evidence, Vote } from './types.ts';

/** Which sides of every quad lie across travel: from the lengths of what hangs together, from columns, and from the neighbors of what these do not decide. */

/** Records of one instant, and of the next one, are no further apart than this in a file in log order: no planter has more sections. */
export const NEAR_IN_FILE = 150;

/** Logarithm of the ratio of the strands along travel to those across, above which one column by itself does not decide. */
const CLEARLY_LONGER = Math.log(3);
/** Shorter strands are no evidence by themselves, meters: a bar that touches no other is as long as its frame is wide. */
const SURE_M = 30;

/**
 * 0 when sides 0 and 2 of a quad are its front and back, 1 when sides 1 and 3 are. Never decided by which is longer: within
 * a connected group, the strands along travel are longer in meters than the strands from section to section. Where that is not clear, or two
 * columns agree against it, the columns decide.
 */
export function acrossPairs(
  quads: Quads,
  links: SideLinks,
  ordered: boolean,
  { columns, clocks }: Evidence,
): Uint8Array {
  const { strands, parts } = joinLinked(quads, links, ordered);
  const strandM = strandLengths(quads, strands);
  const votes = countLonger(parts, strands, strandM);
  const across = new Uint8Array(quads.count);
  for (let q = 0; q < across.length; q++) across[q] = votes[parts.group[q]] > 0 === (parts.against[q] === 0) ? 0 : 1;
  const sure = sureParts(parts, strandM, strands, across);
  const others = [...columns, ...clocks.filter((c) => speaksAgainst(c, across))];
  if (others.length > 0) settleByColumns(quads, parts, votes, others, across, sure);
  settleSmallParts(quads, parts, sure, across, ordered);
  return across;
}

/** Strand of each side pair, by number: 2q and 2q + 1 run through sides 0 and 2, and 1 and 3, of quad q. */
type Strands = Pick<ReturnType<Sets['numbered']>, 'group' | 'groups'>;
/** Connected part of each quad, by number, and the quads whose sides 0 and 2 run as sides 1 and 3 do of the quad that stands for their part. */
type Parts = ReturnType<Sets['numbered']>;

/** 1 for the quads of parts with a strand along travel that is longer than any frame is wide. */
function sureParts({ group, groups }: Parts, strandM: Float64Array, strands: Strands, across: Uint8Array): Uint8Array {
  const longest = new Float64Array(groups);
  for (let q = 0; q < group.length; q++)
    longest[group[q]] = Math.max(longest[group[q]], strandM[strands.group[2 * q + across[q]]]);
  const sure = new Uint8Array(group.length);
  for (let q = 0; q < group.length; q++) if (longest[group[q]] >= SURE_M) sure[q] = 1;
  return sure;
}

/** Whether a clock speaks against most quads: in a field that is wider than its passes are long, the longer strands lie across travel. */
function speaksAgainst(clock: Vote, across: Uint8Array): boolean {
  let sum = 0;
  for (let q = 0; q < across.length; q++) {
    const v = clock(q);
    if (v !== 0) sum += v > 0 === (across[q] === 1) ? 1 : -1;
  }
  return sum > 0.5 * across.length;
}

/** Lets the columns decide, part by part, and where two of them agree quad by quad; what they decide is `sure`. */
function settleByColumns(
  quads: Quads,
  { group, against, groups }: Parts,
  votes: Float64Array,
  columns: readonly Vote[],
  across: Uint8Array,
  sure: Uint8Array,
): void {
  const n = quads.count;
  const size = new Float64Array(groups);
  const says = new Float64Array(groups);
  const own = new Int8Array(n);
  for (let q = 0; q < n; q++) {
    for (const c of columns) own[q] += c(q);
    const part = group[q];
    size[part]++;
    says[part] += against[q] === 1 ? -own[q] : own[q];
  }
  for (let q = 0; q < n; q++) {
    if (Math.abs(own[q]) >= 2) {
      across[q] = own[q] > 0 ? 0 : 1;
      sure[q] = 1;
      continue;
    }
    const part = group[q];
    const clear = Math.abs(votes[part]) > CLEARLY_LONGER * size[part];
    // At least half of the part has a vote.
    if (Math.abs(says[part]) < (clear ? 1.5 : 0.5) * size[part]) continue;
    across[q] = says[part] > 0 === (against[q] === 0) ? 0 : 1;
    sure[q] = 1;
  }
}

function joinLinked(quads: Quads, { link }: SideLinks, ordered: boolean): { strands: Strands; parts: Parts } {
  const strands = new Sets(2 * quads.count);
  const parts = new Sets(quads.count);
  for (let s = 0; s < link.length; s++) {
    const t = link[s];
    if (t <= s) continue;
    // A neighboring pass that touches this one digit for digit by chance was logged at another time.
    if (ordered && Math.abs(quads.record[s >> 2] - quads.record[t >> 2]) > NEAR_IN_FILE) continue;
    strands.join(2 * (s >> 2) + (s & 1), 2 * (t >> 2) + (t & 1));
    parts.join(s >> 2, t >> 2, (s ^ t) & 1);
  }
  return { strands: strands.numbered(), parts: parts.numbered() };
}

/** Meters along each strand. */
function strandLengths({ count, corner: c }: Quads, { group, groups }: Strands): Float64Array {
  const out = new Float64Array(groups);
  const sideM = (s: number): number => {
    const e = (s & ~3) | ((s + 1) & 3);
    return lengthOf(c[2 * e] - c[2 * s], c[2 * e + 1] - c[2 * s + 1]);
  };
  for (let q = 0; q < count; q++) {
    // A strand through sides 0 and 2 moves on by the length of sides 1 and 3.
    out[group[2 * q]] += (sideM(4 * q + 1) + sideM(4 * q + 3)) / 2;
    out[group[2 * q + 1]] += (sideM(4 * q) + sideM(4 * q + 2)) / 2;
  }
  return out;
}

/** Per part: above 0 where the strands that run as sides 0 and 2 do of the quad that stands for it are the longer ones. */
function countLonger({ group, against, groups }: Parts, strands: Strands, strandM: Float64Array): Float64Array {
  // Many records share a strand; cache its logarithm.
  const logM = strandM.map((m) => (m > 0 ? Math.log(m) : 0));
  const votes = new Float64Array(groups);
  for (let q = 0; q < group.length; q++) {
    const v = logM[strands.group[2 * q]] - logM[strands.group[2 * q + 1]];
    votes[group[q]] += against[q] === 1 ? -v : v;
  }
  return votes;
}

/** A record is no evidence for the direction of one this far away, meters, even if it follows in the log. */
const IN_LINE_M = 50;

/** The next record along travel is no further than this many diagonals away; and this share of the steps through the file leads there where records are whole bars. */
const NEXT_PLACES = 1.6;
const ALONG_FILE = 0.9;
/** Records looked at for that, at most, and fewest steps that show it. */
const LOOKED_AT = 2000;
const FEWEST_STEPS = 8;

/**
 * Parts that nothing decides run from record to record where the file does, elsewhere they take the direction of the nearest record of another part: nearest in the log where
 * the file is in its order, else in the field.
 */
function settleSmallParts(
  quads: Quads,
  { group, groups }: Parts,
  sure: Uint8Array,
  across: Uint8Array,
  ordered: boolean,
): void {
  const n = quads.count;
  const known = new Uint32Array(n);
  let count = 0;
  for (let q = 0; q < n; q++) if (sure[q] === 1) known[count++] = q;
  if (count === 0 || count === n) return;
  const middle = new Float64Array(2 * n);
  const c = quads.corner;
  for (let q = 0; q < n; q++) {
    middle[2 * q] = (c[8 * q] + c[8 * q + 2] + c[8 * q + 4] + c[8 * q + 6]) / 4;
    middle[2 * q + 1] = (c[8 * q + 1] + c[8 * q + 3] + c[8 * q + 5] + c[8 * q + 7]) / 4;
  }
  const grid = makePointGrid(middle, known.subarray(0, count), 4);
  const apart2 = (a: number, b: number): number =>
    (middle[2 * a] - middle[2 * b]) ** 2 + (middle[2 * a + 1] - middle[2 * b + 1]) ** 2;
  const inField = (q: number): number => {
    let near = -1;
    let least = 144;
    const around = grid.near(middle[2 * q], middle[2 * q + 1], 12);
    const { found } = grid;
    for (let k = 0; k < around; k++) {
      const d = apart2(found[k], q);
      if (d < least) {
        least = d;
        near = found[k];
      }
    }
    return near;
  };
  const inLog = (q: number): number => {
    let near = -1;
    let least = IN_LINE_M ** 2;
    for (const way of [1, -1]) {
      let t = q + way;
      while (t >= 0 && t < n && sure[t] === 0 && Math.abs(t - q) < NEAR_IN_FILE) t += way;
      if (t < 0 || t >= n || sure[t] === 0 || apart2(t, q) >= least) continue;
      least = apart2(t, q);
      near = t;
    }
    return near;
  };
  /** Cosine between travel of quad q, as read so far, and the way to the quad `by` further on in the file; NaN where that is not the next place. */
  const stepCosine = (q: number, by: number): number => {
    const t = q + by;
    if (t < 0 || t >= n || quads.record[t] === quads.record[q]) return Number.NaN;
    const [x, y] = [middle[2 * t] - middle[2 * q], middle[2 * t + 1] - middle[2 * q + 1]];
    const l = lengthOf(x, y);
    if (l === 0 || l > NEXT_PLACES * lengthOf(c[8 * q] - c[8 * q + 4], c[8 * q + 1] - c[8 * q + 5])) return Number.NaN;
    const [ux, uy] = travelOf(quads, q, across[q]);
    return Math.abs(ux * x + uy * y) / l;
  };
  const alongFile = ordered && followsTravel(known.subarray(0, count), sure, stepCosine);
  const flip = new Float64Array(groups);
  for (let q = 0; q < n; q++) {
    if (sure[q] === 1) continue;
    const steps = alongFile ? [stepCosine(q, -1), stepCosine(q, 1)].filter((v) => !Number.isNaN(v)) : [];
    for (const cos of steps) flip[group[q]] += cos < Math.SQRT1_2 ? 1 : -1;
    if (steps.length > 0) continue;
    const logged = ordered ? inLog(q) : -1;
    const near = logged >= 0 ? logged : inField(q);
    if (near < 0) continue;
    const cos = Math.abs(travelCosine(quads, q, across[q], near, across[near]));
    // Beyond the corner of a lap everything runs another way: what lies nearest counts most.
    const weight = Math.max(1, apart2(q, near)) ** -1.5;
    flip[group[q]] += cos < Math.SQRT1_2 ? weight : -weight;
  }
  for (let q = 0; q < n; q++) if (sure[q] === 0 && flip[group[q]] > 0) across[q] ^= 1;
}

/** Whether records that follow each other in the file follow each other along travel, nearly all of them: one record holds all of an instant. */
function followsTravel(known: Uint32Array, sure: Uint8Array, stepCosine: (q: number, by: number) => number): boolean {
  let seen = 0;
  let along = 0;
  const every = Math.max(1, Math.floor(known.length / LOOKED_AT));
  for (let k = 0; k < known.length; k += every) {
    const cos = sure[known[k] + 1] === 1 ? stepCosine(known[k], 1) : Number.NaN;
    if (Number.isNaN(cos)) continue;
    seen++;
    if (cos > Math.SQRT1_2) along++;
  }
  return seen > FEWEST_STEPS && along > ALONG_FILE * seen;
}
