import { lengthOf } from '../geometry/length.ts';
import type { Column } from '../intake/types.ts';
import { clockVotes } from './clock-votes.ts';
import type { SideLinks } from './links.ts';
import type { Quads } from './quads.ts';
import type { Evidence, Vote } from './types.ts';

/** Quads on which a column is tried. */
const TRIED = 3000;
/** A column distinguishes along from across when it does so in at least this share of the quads that have neighbors both ways. */
const CLEAN_SHARE = 0.75;
/** No frame is wider (common practice): records further apart are of different instants. */
const WIDEST_M = 45;
/** And none has more sections. */
const MOST_SECTIONS = 64;
/** A heading lies this near the way through a quad, degrees. */
const NEAR_DEG = 12;
/** Fewer records in one line may be chance: a few wide ones reach as far as a frame. */
const FEWEST_IN_LINE = 8;
const HEADING_NAME = /head|course|track|bearing|dir/i;

/**
 * Evidence from the columns about which sides of a quad lie across travel. A column votes only after a test against the geometry: times are equal from
 * section to section and change along travel, section numbers the other way round, and a heading points through two of the sides.
 */
export function axisVotes(quads: Quads, links: SideLinks, columns: readonly Column[]): Evidence {
  const out: Vote[] = [];
  const stride = Math.max(1, Math.floor(quads.count / TRIED));
  // Parts of one record lie side by side.
  const last = quads.count > 0 ? quads.record[quads.count - 1] : 0;
  if (quads.count > 1.5 * (last + 1)) {
    const ofOne = Uint32Array.from({ length: last + 1 }, (_, r) => r);
    out.push((q) => -2 * staysOneWay(quads, links, ofOne, q));
  }
  out.push(lineVote(quads));
  for (const c of columns) {
    const values: ArrayLike<number> = c.kind === 'number' ? c.values : c.codes;
    const vote = equalVote(quads, links, values, stride) ?? headingVote(quads, c, stride);
    if (vote) out.push(vote);
  }
  return { columns: out, clocks: clockVotes(quads, links, columns) };
}

/** Records that follow each other in the file in one line turn by less than this, cosine of 15 degrees. */
const STRAIGHT = Math.cos(Math.PI / 12);

/**
 * Evidence from the order of the file: records that follow each other in one line, for longer than any frame is wide, follow travel. The sections of a bar, which
 * may follow each other too, end with the frame.
 */
function lineVote(quads: Quads): Vote {
  const { count, record, corner: c } = quads;
  const out = new Int8Array(count);
  /** Middle of the parts of each record, and the record's first quad. */
  const first = new Uint32Array(count + 1);
  const middle = new Float64Array(2 * count);
  let n = 0;
  for (let q = 0; q < count; ) {
    let to = q;
    let x = 0;
    let y = 0;
    for (; to < count && record[to] === record[q]; to++)
      for (let k = 0; k < 8; k += 2) {
        x += c[8 * to + k] / 4;
        y += c[8 * to + k + 1] / 4;
      }
    first[n] = q;
    middle[2 * n] = x / (to - q);
    middle[2 * n++ + 1] = y / (to - q);
    q = to;
  }
  first[n] = count;
  // From the middle of each record to that of the next one.
  const stepX = (i: number): number => middle[2 * i + 2] - middle[2 * i];
  const stepY = (i: number): number => middle[2 * i + 3] - middle[2 * i + 1];
  for (let from = 0; from + 1 < n; ) {
    let to = from + 1;
    let ux = stepX(from);
    let uy = stepY(from);
    let l = lengthOf(ux, uy);
    let runM = l;
    for (; to + 1 < n; to++) {
      const x = stepX(to);
      const y = stepY(to);
      const next = lengthOf(x, y);
      if (l === 0 || next === 0 || next > WIDEST_M || ux * x + uy * y < STRAIGHT * l * next) break;
      runM += next;
      ux = x;
      uy = y;
      l = next;
    }
    if (runM > WIDEST_M && to - from > FEWEST_IN_LINE)
      for (let i = from; i <= to; i++) {
        const k = Math.min(i, to - 1);
        const headingDeg = (Math.atan2(stepX(k), stepY(k)) * 180) / Math.PI;
        for (let q = first[i]; q < first[i + 1]; q++) out[q] = 2 * pointsThrough(quads, q, headingDeg);
      }
    from = to;
  }
  return (q) => out[q];
}

/**
 * Ways through quad q by which a value is met again: 1 for sides 0 and 2, 2 for sides 1 and 3, 3 for both; and, times four, those by which
 * another is. One number, because every column asks for it at every quad.
 */
function waysOf({ record }: Quads, { link }: SideLinks, values: ArrayLike<number>, q: number): number {
  const own = values[record[q]];
  let ways = 0;
  for (let k = 0; k < 4; k++) {
    const t = link[4 * q + k];
    if (t >= 0) ways |= (values[record[t >> 2]] === own ? 1 : 4) << (k & 1);
  }
  return ways;
}

/** 1 where the value stays through sides 0 and 2 and changes through sides 1 and 3, -1 the other way round, 0 else; NaN without neighbors both ways. */
function staysThrough(quads: Quads, links: SideLinks, values: ArrayLike<number>, q: number): number {
  return stays(waysOf(quads, links, values, q));
}

function stays(ways: number): number {
  const same = ways & 3;
  const other = ways >> 2;
  if ((same | other) !== 3) return Number.NaN;
  // Where a clock is coarser than the log, the value stays through one of the two sides that lie across travel.
  if (other === 2 && (same & 1) === 1) return 1;
  return other === 1 && (same & 2) === 2 ? -1 : 0;
}

/** The same for a tested column: that it stays one way is enough, because a neighbor with another value may belong to another pass. */
function staysOneWay(quads: Quads, links: SideLinks, values: ArrayLike<number>, q: number): number {
  const ways = waysOf(quads, links, values, q);
  const both = stays(ways);
  if (!Number.isNaN(both)) return both;
  const same = ways & 3;
  return same === 1 ? 1 : same === 2 ? -1 : 0;
}

function equalVote(quads: Quads, links: SideLinks, values: ArrayLike<number>, stride: number): Vote | null {
  let clean = 0;
  let seen = 0;
  const first = new Map<number, number>();
  let far = 0;
  let again = 0;
  for (let q = 0; q < quads.count; q += stride) {
    const v = staysThrough(quads, links, values, q);
    if (Number.isNaN(v)) continue;
    seen++;
    if (v === 0) continue;
    clean++;
    const value = values[quads.record[q]];
    const p = first.get(value);
    if (p === undefined) first.set(value, q);
    else {
      again++;
      const c = quads.corner;
      if (lengthOf(c[8 * p] - c[8 * q], c[8 * p + 1] - c[8 * q + 1]) > WIDEST_M) far++;
    }
  }
  if (clean < 10 || clean < CLEAN_SHARE * seen) return null;
  // The same value all over the map, or of more records than a frame has sections, is a place across travel; a value of one spot only is an instant.
  const isPlace = (far > 0.5 * again && again > 0) || clean > MOST_SECTIONS * first.size;
  const sign = isPlace ? 1 : -1;
  return (q) => sign * staysOneWay(quads, links, values, q);
}

/** 1 where the heading points through sides 0 and 2, -1 through sides 1 and 3, 0 in between. */
function pointsThrough({ corner: c }: Quads, q: number, headingDeg: number): number {
  const h = (headingDeg * Math.PI) / 180;
  const o = 8 * q;
  const x = c[o] + c[o + 2] - c[o + 4] - c[o + 6];
  const y = c[o + 1] + c[o + 3] - c[o + 5] - c[o + 7];
  const u = c[o + 2] + c[o + 4] - c[o] - c[o + 6];
  const v = c[o + 3] + c[o + 5] - c[o + 1] - c[o + 7];
  const near = Math.cos((NEAR_DEG * Math.PI) / 180);
  const along = Math.abs(x * Math.sin(h) + y * Math.cos(h)) >= near * lengthOf(x, y);
  const aside = Math.abs(u * Math.sin(h) + v * Math.cos(h)) >= near * lengthOf(u, v);
  return along === aside ? 0 : along ? 1 : -1;
}

function headingVote(quads: Quads, c: Column, stride: number): Vote | null {
  if (c.kind !== 'number' || !HEADING_NAME.test(c.name)) return null;
  const { values } = c;
  let fits = 0;
  let seen = 0;
  let low = Infinity;
  let high = -Infinity;
  for (let q = 0; q < quads.count; q += stride) {
    const h = values[quads.record[q]];
    if (Number.isNaN(h)) continue;
    seen++;
    if (pointsThrough(quads, q, h) !== 0) fits++;
    low = Math.min(low, h);
    high = Math.max(high, h);
  }
  // One value throughout fits a map of one direction by chance.
  if (seen < 10 || fits < 0.9 * seen || low < -180 || high > 360 || high - low < 20) return null;
  return (q) => {
    const h = values[quads.record[q]];
    return Number.isNaN(h) ? 0 : pointsThrough(quads, q, h);
  };
}
