import { lengthOf } from '../geometry/length.ts';
import type { Column } from '../intake/types.ts';
import { type Moments, readMoments } from './columns/moments.ts';
import { NAMES } from './columns/roles.ts';
import type { SideLinks } from './links.ts';
import type { Quads } from './quads.ts';
import type { Vote } from './types.ts';

/** Maps of more quads show travel by the lengths of their strands, and reading the times twice would cost time. */
const MOST_QUADS = 20_000;
/** A planter that moves, meters per second, with a wide margin (common practice: 1 to 5; several records in one tick of the clock look slower). */
const SLOWEST = 0.1;
const FASTEST = 10;
/** Of all steps from a quad to its neighbor in time, this share is no longer than the usual step: a pass beside it comes later. */
const USUAL_SHARE = 0.2;
const NEARLY = 2.5;
/** Fewer steps are chance, and of those this share may point both ways. */
const FEWEST_STEPS = 10;
const BOTH_WAYS = 0.1;
/** Milliseconds in a unit of a count whose unit is not known. */
const UNITS_MS = [1000, 1];

/** By which sides of a quad the next record in time lies, as two bits: 1 for sides 0 and 2, 2 for sides 1 and 3. */
interface Steps {
  /** Shortest step of a moving planter through each pair of sides, milliseconds; infinite where there is none. */
  leastMs: Float64Array;
  /** Pairs of sides through which the time stays, and through which it changes. */
  stays: Uint8Array;
  differs: Uint8Array;
}

/**
 * Evidence from a clock: the neighbor whose time is one step away, at a speed that a planter drives, lies along travel; the neighbor in the next pass is many steps away. So a
 * field that is wider than its passes are long is read the right way. Where several bars share a tick, the time stays along travel and jumps to the next pass.
 */
export function clockVotes(quads: Quads, links: SideLinks, columns: readonly Column[]): Vote[] {
  if (quads.count > MOST_QUADS) return [];
  return columns.flatMap((c) => {
    const m = readMoments(c, null, NAMES.time.test(c.name));
    if (m === null || !('names' in m) || m.holds === 'days' || m.open !== null) return [];
    const units = m.holds === 'counts' ? UNITS_MS : [1];
    for (const unit of units) {
      const votes = clockVote(quads, stepsOf(quads, links, m, unit));
      if (votes === null) continue;
      spread(votes, links);
      return [(q: number) => votes[q]];
    }
    return [];
  });
}

function stepsOf({ count, record, corner: c }: Quads, { link }: SideLinks, { ms }: Moments, unitMs: number): Steps {
  const leastMs = new Float64Array(2 * count).fill(Infinity);
  const stays = new Uint8Array(count);
  const differs = new Uint8Array(count);
  const middle = (q: number, k: number): number =>
    (c[8 * q + k] + c[8 * q + 2 + k] + c[8 * q + 4 + k] + c[8 * q + 6 + k]) / 4;
  for (let s = 0; s < 4 * count; s++) {
    if (link[s] < 0) continue;
    const [q, t] = [s >> 2, link[s] >> 2];
    const stepMs = Math.abs(ms[record[q]] - ms[record[t]]) * unitMs;
    if (stepMs === 0) stays[q] |= 1 << (s & 1);
    else if (stepMs > 0) differs[q] |= 1 << (s & 1);
    const speed = (1000 * lengthOf(middle(q, 0) - middle(t, 0), middle(q, 1) - middle(t, 1))) / stepMs;
    if (speed >= SLOWEST && speed <= FASTEST) leastMs[2 * q + (s & 1)] = Math.min(leastMs[2 * q + (s & 1)], stepMs);
  }
  return { leastMs, stays, differs };
}

function clockVote({ count }: Quads, { leastMs, stays, differs }: Steps): Int8Array | null {
  const steps = leastMs.filter(Number.isFinite).sort();
  if (steps.length < FEWEST_STEPS) return null;
  const nearMs = NEARLY * steps[Math.floor(USUAL_SHARE * steps.length)];
  const votes = new Int8Array(count);
  let both = 0;
  let one = 0;
  for (let q = 0; q < count; q++) {
    const near = (leastMs[2 * q] <= nearMs ? 1 : 0) | (leastMs[2 * q + 1] <= nearMs ? 2 : 0);
    if (near === 3) both++;
    else if (near > 0) one++;
    const along = near === 0 && (stays[q] & differs[q]) === 0 && stays[q] + differs[q] === 3 ? stays[q] : near;
    votes[q] = along === 1 ? 2 : along === 2 ? -2 : 0;
  }
  return one < FEWEST_STEPS || both > BOTH_WAYS * (one + both) ? null : votes;
}

/** Bars that share a tick, at most: as many rounds give each of them the vote of the first or the last. */
const MOST_IN_TICK = 10;

/** A quad without a vote takes that of a neighbor. */
function spread(votes: Int8Array, { link }: SideLinks): void {
  for (let round = 0; round < MOST_IN_TICK; round++) {
    const before = votes.slice();
    for (let s = 0; s < link.length; s++) {
      const t = link[s];
      if (t >= 0 && before[s >> 2] === 0 && before[t >> 2] !== 0)
        votes[s >> 2] = (s ^ t) & 1 ? -before[t >> 2] : before[t >> 2];
    }
  }
}
