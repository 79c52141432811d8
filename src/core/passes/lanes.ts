import { makePointGrid } from '../geometry/grid.ts';
import type { Shapes } from '../geometry/shapes.ts';
import { median } from '../geometry/stats.ts';
import { makeSets, numberSets } from '../geometry/unionfind.ts';
import { linkNearSides, linkSharedSides, type SideLinks, sideMiddles } from './links.ts';
import type { Quads } from './quads.ts';
import type { Lanes } from './types.ts';

/** Finds which side of every quad lies across travel, chains them to lanes, and puts lanes that ran side by side together. */
export function findLanes(shapes: Shapes, quads: Quads): Lanes {
  const links = linkSharedSides(shapes, quads);
  const middles = sideMiddles(quads);
  // Records that do not share corners: what lies against a side is there within rounding and the jitter of the heading.
  linkNearSides(
    quads,
    middles,
    links,
    { normalM: 0.25, alongM: 0.12, alongShare: 0.08, cosine: 0.98, lengthShare: 0.04, lengthM: 0.03, depthShare: 0.3 },
    () => true,
  );
  const ordered = inLogOrder(quads, links);
  const across = acrossPairs(quads, links, ordered);
  // A tight turn opens the outer records and closes the inner ones: only the across sides may bridge that.
  linkNearSides(
    quads,
    middles,
    links,
    { normalM: 1, alongM: 0.2, alongShare: 0.3, cosine: 0.82, lengthShare: 0.05, lengthM: 0.04, depthShare: 1 },
    (s) => (s & 1) === across[s >> 2],
  );
  const chain = chainLanes(quads, links, across);
  const beside = findBeside(quads, links, middles, chain, ordered);
  return { quads, ...chain, ...beside };
}

/** Records of one instant, and of the next one, stand no further apart than this in a file in log order: no planter has more sections. */
const NEAR_IN_FILE = 150;

/** True when the file stands in the order of the log: nearly every record is followed by one close by, and often by one that lies against it. */
function inLogOrder(quads: Quads, links: SideLinks): boolean {
  const c = quads.corner;
  let near = 0;
  let against = 0;
  for (let q = 1; q < quads.count; q++) {
    if (Math.abs(c[8 * q] - c[8 * q - 8]) < 40 && Math.abs(c[8 * q + 1] - c[8 * q - 7]) < 40) near++;
    for (let s = 4 * q; s < 4 * q + 4; s++) if (links.link[s] >> 2 === q - 1 && links.link[s] >= 0) against++;
  }
  return quads.count > 1 && near > 0.9 * (quads.count - 1) && against > 0.4 * (quads.count - 1);
}

/**
 * 0 when sides 0 and 2 of a quad are its front and back, 1 when sides 1 and 3 are. Never told by which is longer: within
 * everything that hangs together, the strands along travel are longer in metres than the strands from section to section.
 */
function acrossPairs(quads: Quads, links: SideLinks, ordered: boolean): Uint8Array {
  const n = quads.count;
  const strands = makeSets(2 * n);
  const parts = makeSets(n);
  for (let s = 0; s < 4 * n; s++) {
    const t = links.link[s];
    if (t <= s) continue;
    // A neighbouring pass that happens to lie digit for digit against this one was logged at another time.
    if (!ordered || Math.abs(quads.record[s >> 2] - quads.record[t >> 2]) <= NEAR_IN_FILE) {
      strands.join(2 * (s >> 2) + (s & 1), 2 * (t >> 2) + (t & 1));
    }
    parts.join(s >> 2, t >> 2, (s ^ t) & 1);
  }
  const strandM = new Float64Array(2 * n);
  const c = quads.corner;
  const sideM = (s: number): number => {
    const e = (s & ~3) | ((s + 1) & 3);
    return Math.hypot(c[2 * e] - c[2 * s], c[2 * e + 1] - c[2 * s + 1]);
  };
  for (let q = 0; q < n; q++) {
    // A strand through sides 0 and 2 moves on by the length of sides 1 and 3.
    strandM[strands.find(2 * q)] += (sideM(4 * q + 1) + sideM(4 * q + 3)) / 2;
    strandM[strands.find(2 * q + 1)] += (sideM(4 * q) + sideM(4 * q + 2)) / 2;
  }
  const votes = new Float64Array(n);
  for (let q = 0; q < n; q++) {
    const root = parts.find(q);
    const v = Math.log(strandM[strands.find(2 * q)]) - Math.log(strandM[strands.find(2 * q + 1)]);
    votes[root] += parts.parityOf(q) ? -v : v;
  }
  const across = new Uint8Array(n);
  for (let q = 0; q < n; q++) across[q] = votes[parts.find(q)] > 0 === (parts.parityOf(q) === 0) ? 0 : 1;
  settleSmallParts(quads, parts, strandM, strands, across);
  return across;
}

/** Parts with too few records to tell take the direction of the nearest long strand. */
function settleSmallParts(
  quads: Quads,
  parts: ReturnType<typeof makeSets>,
  strandM: Float64Array,
  strands: ReturnType<typeof makeSets>,
  across: Uint8Array,
): void {
  const n = quads.count;
  const longest = new Float64Array(n);
  for (let q = 0; q < n; q++) {
    const root = parts.find(q);
    longest[root] = Math.max(longest[root], strandM[strands.find(2 * q + across[q])]);
  }
  const SURE_M = 30;
  const sure = (q: number): boolean => longest[parts.find(q)] >= SURE_M;
  let unsure = 0;
  for (let q = 0; q < n; q++) if (!sure(q)) unsure++;
  if (unsure === 0 || unsure === n) return;
  const middle = new Float64Array(2 * n);
  const c = quads.corner;
  for (let q = 0; q < n; q++) {
    middle[2 * q] = (c[8 * q] + c[8 * q + 2] + c[8 * q + 4] + c[8 * q + 6]) / 4;
    middle[2 * q + 1] = (c[8 * q + 1] + c[8 * q + 3] + c[8 * q + 5] + c[8 * q + 7]) / 4;
  }
  const grid = makePointGrid(middle, n, 4, sure);
  const flip = new Float64Array(n);
  for (let q = 0; q < n; q++) {
    if (sure(q)) continue;
    let near = -1;
    let least = 144;
    grid.near(middle[2 * q], middle[2 * q + 1], 12, (t) => {
      const d = (middle[2 * t] - middle[2 * q]) ** 2 + (middle[2 * t + 1] - middle[2 * q + 1]) ** 2;
      if (d < least) {
        least = d;
        near = t;
      }
    });
    if (near < 0) continue;
    const a = travelOf(quads, q, across[q]);
    const b = travelOf(quads, near, across[near]);
    const cos = Math.abs(a[0] * b[0] + a[1] * b[1]);
    flip[parts.find(q)] += cos < Math.SQRT1_2 ? 1 : -1;
  }
  for (let q = 0; q < n; q++) if (!sure(q) && flip[parts.find(q)] > 0) across[q] ^= 1;
}

/** Unit vector from the back to the front middle when `k` is the front side. */
export function travelOf(quads: Quads, q: number, k: number): [number, number] {
  const c = quads.corner;
  const at = (i: number): number => 8 * q + 2 * ((k + i) & 3);
  const x = c[at(0)] + c[at(1)] - c[at(2)] - c[at(3)];
  const y = c[at(0) + 1] + c[at(1) + 1] - c[at(2) + 1] - c[at(3) + 1];
  const l = Math.hypot(x, y) || 1;
  return [x / l, y / l];
}

type Chain = Pick<Lanes, 'front' | 'lane' | 'laneStart' | 'laneQuads' | 'sharedShare'>;

function chainLanes(quads: Quads, links: SideLinks, across: Uint8Array): Chain {
  const n = quads.count;
  const { link, exact } = links;
  const front = new Uint8Array(n);
  const lane = new Int32Array(n).fill(-1);
  const laneStart: number[] = [0];
  const laneQuads = new Uint32Array(n);
  let filled = 0;
  let lanes = 0;
  let shared = 0;
  const step = (side: number): number => {
    const t = link[side];
    // Only across sides chain; a link into a lateral side would turn the lane by a right angle.
    return t >= 0 && (t & 1) === across[t >> 2] ? t : -1;
  };
  const walk = (q0: number): void => {
    // Back to the lane's first quad, or once round a ring.
    let back = across[q0] + 2;
    let q = q0;
    for (;;) {
      const t = step(4 * q + back);
      if (t < 0 || t >> 2 === q0 || lane[t >> 2] >= 0) break;
      q = t >> 2;
      back = (t & 3) ^ 2;
    }
    let head = back ^ 2;
    for (;;) {
      lane[q] = lanes;
      front[q] = head;
      laneQuads[filled++] = q;
      const t = step(4 * q + head);
      if (t < 0 || lane[t >> 2] >= 0) break;
      if (exact[4 * q + head]) shared++;
      q = t >> 2;
      head = (t & 3) ^ 2;
    }
    lanes++;
    laneStart.push(filled);
  };
  for (let q = 0; q < n; q++) if (lane[q] < 0) walk(q);
  return {
    front,
    lane,
    laneStart: Uint32Array.from(laneStart),
    laneQuads,
    sharedShare: n > lanes ? shared / (n - lanes) : 0,
  };
}

/** How far to the side a section may be missing and the next record still count as the same bar, metres. */
const WIDEST_HOLE_M = 3.2;

function findBeside(
  quads: Quads,
  links: SideLinks,
  middles: Float64Array,
  chain: Chain,
  ordered: boolean,
): Pick<Lanes, 'group' | 'against' | 'groups' | 'right' | 'left'> {
  const n = quads.count;
  const { link, exact } = links;
  const { front, lane, laneStart } = chain;
  const right = new Int32Array(n).fill(-1);
  const left = new Int32Array(n).fill(-1);
  const sure = new Uint8Array(2 * n);
  // The quad that lies beside without being of the same instant: it speaks against its lane.
  const missed = new Int32Array(2 * n).fill(-1);
  const isLateral = (side: number): boolean => ((side ^ front[side >> 2]) & 1) === 1;
  const grid = makePointGrid(middles, 4 * n, 1, isLateral);
  for (let q = 0; q < n; q++) {
    for (const hand of [-1, 1]) {
      // Corners run counter-clockwise, so the left side follows the front and the right side comes before it.
      const s = 4 * q + ((front[q] + hand * -1 + 4) & 3);
      const store = hand > 0 ? right : left;
      if (link[s] >= 0 && exact[s] && isLateral(link[s])) {
        store[q] = link[s] >> 2;
        sure[2 * q + (hand > 0 ? 1 : 0)] = 1;
        continue;
      }
      const t = nearestBeside(quads, front, middles, grid, q, s);
      if (t >= 0) store[q] = t;
      else if (t < -1) missed[2 * q + (hand > 0 ? 1 : 0)] = -2 - t;
    }
  }
  // Lanes ran side by side when most of the shorter one lies beside the longer one at the same instants.
  const lanes = laneStart.length - 1;
  interface Votes {
    n: number;
    misses: number;
    sure: number;
    flip: number;
    /** Sum of the distances in the file. */
    apart: number;
  }
  const found = new Map<number, Votes>();
  const c = quads.corner;
  for (const hand of [0, 1]) {
    // Along a lane the neighbour is nearly always the same lane, so the last entry is kept at hand.
    let lastKey = -1;
    let e: Votes = { n: 0, misses: 0, sure: 0, flip: 0, apart: 0 };
    for (let k = 0; k < n; k++) {
      const q = chain.laneQuads[k];
      const hit = hand ? right[q] : left[q];
      const r = hit >= 0 ? hit : missed[2 * q + hand];
      if (r < 0) continue;
      const a = Math.min(lane[q], lane[r]);
      const b = Math.max(lane[q], lane[r]);
      if (a === b) continue;
      const key = a * lanes + b;
      if (key !== lastKey) {
        lastKey = key;
        const known = found.get(key);
        if (known) e = known;
        else {
          e = { n: 0, misses: 0, sure: 0, flip: 0, apart: 0 };
          found.set(key, e);
        }
      }
      if (hit < 0) {
        e.misses++;
        continue;
      }
      e.n++;
      e.sure += sure[2 * q + hand];
      e.apart += Math.abs(quads.record[q] - quads.record[r]);
      const qf = 8 * q + 2 * front[q];
      const qb = 8 * q + 2 * ((front[q] + 3) & 3);
      const rf = 8 * r + 2 * front[r];
      const rb = 8 * r + 2 * ((front[r] + 3) & 3);
      // Right sides of both, back to front: which way they run is all that matters.
      e.flip += (c[qf] - c[qb]) * (c[rf] - c[rb]) + (c[qf + 1] - c[qb + 1]) * (c[rf + 1] - c[rb + 1]) < 0 ? 1 : -1;
    }
  }
  const sets = makeSets(lanes);
  const laneLen = (i: number): number => laneStart[i + 1] - laneStart[i];
  const joined = new Set<number>();
  const trend = ordered ? laneTrends(quads, chain) : null;
  /** Lanes of one pass were logged the same way and at the same instants; neighbouring passes that match in every digit were not. */
  const sameLog = (a: number, b: number, e: Votes): boolean => {
    const [x, y] = [trend!.rise[a], trend!.rise[b]];
    const flip = e.flip > 0 ? -1 : 1;
    if (Math.abs(x) > 0.9 && Math.abs(y) > 0.9 && x * y * flip < 0) return false;
    const step = Math.max(trend!.step[a], trend!.step[b]);
    // Written bar by bar, the records of a bar stand closer together than one bar and the next.
    if (step >= 1.5) return e.apart / e.n < 3 * step;
    // Written one record after the other along a lane: as wide as this, the record is a whole bar, and what lies beside it another pass.
    return e.apart / e.n < 3 || trend!.widthM[a] < WIDEST_SECTION_M;
  };
  for (const [key, e] of found) {
    const a = Math.floor(key / lanes);
    const b = key % lanes;
    const short = Math.min(laneLen(a), laneLen(b));
    // Lanes of one pass agree wherever they face each other; neighbouring passes agree by chance, and seldom.
    const enough = e.n >= 4 * e.misses && (e.sure > 0 || (short > 3 && e.n >= 0.4 * short));
    if (!enough || (ordered && !sameLog(a, b, e))) continue;
    joined.add(key);
    sets.join(a, b, e.flip > 0 ? 1 : 0);
  }
  for (let q = 0; q < n; q++) {
    for (const store of [left, right]) {
      const r = store[q];
      if (r < 0) continue;
      const [a, b] = lane[q] < lane[r] ? [lane[q], lane[r]] : [lane[r], lane[q]];
      if (!joined.has(a * lanes + b)) store[q] = -1;
    }
  }
  return { ...numberSets(sets, lanes), right, left };
}

/** No section is wider (common practice); a wider record is a bar. */
const WIDEST_SECTION_M = 3.7;

/** Per lane: how steadily its records rise in the file (-1 to 1), and the usual distance from one to the next. */
function laneTrends(
  quads: Quads,
  chain: Chain,
): {
  rise: Float64Array;
  step: Float64Array;
  widthM: Float64Array;
} {
  const lanes = chain.laneStart.length - 1;
  const rise = new Float64Array(lanes);
  const step = new Float64Array(lanes);
  const widthM = new Float64Array(lanes);
  for (let i = 0; i < lanes; i++) {
    const from = chain.laneStart[i];
    const to = chain.laneStart[i + 1];
    const steps: number[] = [];
    for (let k = from + 1; k < to; k++) {
      const d = quads.record[chain.laneQuads[k]] - quads.record[chain.laneQuads[k - 1]];
      rise[i] += Math.sign(d);
      steps.push(Math.abs(d));
    }
    if (steps.length < 3) {
      rise[i] = 0;
      continue;
    }
    rise[i] /= steps.length;
    step[i] = median(steps);
    const q = chain.laneQuads[from];
    const at = (k: number): number => 8 * q + 2 * ((chain.front[q] + k) & 3);
    widthM[i] = Math.hypot(
      quads.corner[at(1)] - quads.corner[at(0)],
      quads.corner[at(1) + 1] - quads.corner[at(0) + 1],
    );
  }
  return { rise, step, widthM };
}

/**
 * The quad whose lateral side faces side `s` of `q`, and whose back and front lie on the same lines across: laid down at the same
 * instant. -1 when nothing lies there; -2 - r when quad r lies there and is of another instant.
 */
function nearestBeside(
  quads: Quads,
  front: Uint8Array,
  middles: Float64Array,
  grid: ReturnType<typeof makePointGrid>,
  q: number,
  s: number,
): number {
  const c = quads.corner;
  const u = travelOf(quads, q, front[q]);
  const mx = middles[2 * s];
  const my = middles[2 * s + 1];
  // Outward normal of the lateral side, from the quad's middle.
  const opp = (s & ~3) | ((s + 2) & 3);
  let ox = mx - middles[2 * opp];
  let oy = my - middles[2 * opp + 1];
  const ol = Math.hypot(ox, oy);
  ox /= ol;
  oy /= ol;
  const e = (s & ~3) | ((s + 1) & 3);
  const half = Math.hypot(c[2 * e] - c[2 * s], c[2 * e + 1] - c[2 * s + 1]) / 2;
  let best = -1;
  let least = WIDEST_HOLE_M;
  let other = -1;
  let otherOut = WIDEST_HOLE_M;
  const look = (reach: number, hx: number, hy: number): void =>
    grid.near(hx, hy, reach, (t) => {
      const r = t >> 2;
      if (r === q) return;
      const dx = middles[2 * t] - mx;
      const dy = middles[2 * t + 1] - my;
      const out = dx * ox + dy * oy;
      if (out < -0.3 || Math.abs(out) >= Math.min(least, otherOut)) return;
      const along = Math.abs(dx * u[0] + dy * u[1]);
      if (along > half) return;
      // The facing side must look back at us.
      const far = (t & ~3) | ((t + 2) & 3);
      if ((middles[2 * far] - middles[2 * t]) * ox + (middles[2 * far + 1] - middles[2 * t + 1]) * oy <= 0) return;
      const v = travelOf(quads, r, front[r]);
      const cos = u[0] * v[0] + u[1] * v[1];
      if (Math.abs(cos) < 0.97) return;
      const sameWay = cos > 0;
      const tol = Math.min(0.05, 0.15 * half) + 0.03 * Math.max(0, out);
      const qf = 4 * q + front[q];
      const qb = 4 * q + ((front[q] + 2) & 3);
      const rf = 4 * r + ((front[r] + (sameWay ? 0 : 2)) & 3);
      const rb = 4 * r + ((front[r] + (sameWay ? 2 : 0)) & 3);
      if (offLine(c, middles, qf, rf) > tol || offLine(c, middles, qb, rb) > tol) {
        other = r;
        otherOut = Math.abs(out);
        return;
      }
      least = Math.abs(out);
      best = r;
    });
  look(Math.max(0.3, half), mx, my);
  if (best < 0 && other < 0)
    for (let d = 0.8; d < WIDEST_HOLE_M && best < 0 && other < 0; d += 0.9)
      look(Math.max(0.5, half), mx + ox * d, my + oy * d);
  if (best >= 0 && least <= otherOut + 0.1) return best;
  return other >= 0 ? -2 - other : best;
}

/** How far two sides miss lying on one line, metres: mean of each middle's distance from the other's line. */
function offLine(c: Float64Array, middles: Float64Array, a: number, b: number): number {
  return (Math.abs(fromLine(c, middles, a, b)) + Math.abs(fromLine(c, middles, b, a))) / 2;
}

function fromLine(c: Float64Array, middles: Float64Array, a: number, b: number): number {
  const e = (a & ~3) | ((a + 1) & 3);
  const x = c[2 * e] - c[2 * a];
  const y = c[2 * e + 1] - c[2 * a + 1];
  return ((middles[2 * b] - c[2 * a]) * y - (middles[2 * b + 1] - c[2 * a + 1]) * x) / Math.hypot(x, y);
}
