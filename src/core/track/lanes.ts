import type { Shapes } from '../geometry/shapes.ts';
import { acrossPairs, NEAR_IN_FILE } from './axis.ts';
import { type Chain, findLaneNeighbors } from './lane-neighbors.ts';
import { linkNearSides, linkSharedSides, linkSteps, quadsAround, type SideLinks, sideMiddles } from './links.ts';
import type { Quads } from './quads.ts';
import type { Evidence, Lanes } from './types.ts';

/**
 * Finds which side of every quad lies across travel, chains quads to lanes, and groups lanes that ran side by side.
 *
 * - `stepM`: size of a lattice step, meters.
 * - `votesOf`: evidence other than lengths.
 * - `joints`: pairs of sides (4·quad + k) that are known to follow each other though one is wider.
 * - `record`: where quads are pieces of strips, the record that each was cut from.
 * - `passOf`: where quads are pieces of strips, the pass of each, if known. Pieces of one pass share their sides.
 */
export function findLanes(
  shapes: Shapes,
  quads: Quads,
  stepM: number,
  votesOf: (links: SideLinks) => Evidence,
  joints: readonly number[] = [],
  record: Uint32Array = quads.record,
  passOf: Uint32Array | null = null,
): Lanes {
  const links = linkSharedSides(shapes, quads);
  for (let i = 0; i < joints.length; i += 2) {
    const [s, t] = [joints[i], joints[i + 1]];
    if (links.link[s] >= 0 || links.link[t] >= 0) continue;
    links.link[s] = t;
    links.link[t] = s;
  }
  const middles = sideMiddles(quads);
  // For records that do not share corners: a neighbor touches a side within rounding and the jitter of the heading.
  linkNearSides(
    quads,
    middles,
    links,
    { normalM: 0.25, alongM: 0.12, alongShare: 0.08, cosine: 0.98, lengthShare: 0.04, lengthM: 0.03, depthShare: 0.3 },
    stepM,
    () => true,
  );
  const ordered = inLogOrder(quads, links);
  if (ordered) linkCrumbs(quads, links);
  const across = acrossPairs(quads, links, ordered, votesOf(links));
  // A tight turn opens the outer records and closes the inner ones: only the across sides may bridge that.
  linkNearSides(
    quads,
    middles,
    links,
    { normalM: 1, alongM: 0.2, alongShare: 0.3, cosine: 0.82, lengthShare: 0.05, lengthM: 0.04, depthShare: 1 },
    stepM,
    (s) => (s & 1) === across[s >> 2],
  );
  const leadsOn = (s: number): boolean => (s & 1) === across[s >> 2];
  const around = quadsAround(quads, links, leadsOn);
  linkSteps(quads, links, leadsOn, (q, look) =>
    around(q, (r) => {
      if (!ordered || Math.abs(record[q] - record[r]) <= NEAR_IN_FILE) look(r);
    }),
  );
  const chain = chainLanes(quads, links, across);
  // Pieces of one strip stand in the order in which it was cut, from either of its ends.
  const beside = findLaneNeighbors(quads, links, middles, chain, ordered && passOf === null, passOf, stepM);
  return { quads, ...chain, ...beside };
}

/** A smaller connected group of quads shows no direction on its own. */
const FEW = 8;

/**
 * A few bars of another width than the bar that they follow in the log: linked before the direction is known, so that they take it over. Longer
 * runs show it themselves, and at a corner of the headland the side of one pass touches the end of the other.
 */
function linkCrumbs(quads: Quads, links: SideLinks): void {
  const isFew = fewLinked(links.link, quads.count);
  linkSteps(
    quads,
    links,
    () => true,
    (q, look) => {
      for (const r of [q - 2, q - 1, q + 1, q + 2]) {
        if (r < 0 || r >= quads.count || quads.record[r] === quads.record[q]) continue;
        if (isFew(q) || isFew(r)) look(r);
      }
    },
  );
}

/** Whether a quad's connected group is one of few. Asked about few quads, it follows links only until the group is seen to be larger. */
function fewLinked(link: Int32Array, count: number): (quad: number) => boolean {
  /** 1 for a quad of a small group, 2 for one of a larger group, 0 where that was not asked. */
  const known = new Uint8Array(count);
  const group: number[] = [];
  return (quad) => {
    if (known[quad] !== 0) return known[quad] === 1;
    group.length = 0;
    group.push(quad);
    let is = 1;
    for (let i = 0; i < group.length && is === 1; i++) {
      for (let s = 4 * group[i]; s < 4 * group[i] + 4; s++) {
        if (link[s] < 0 || group.includes(link[s] >> 2)) continue;
        group.push(link[s] >> 2);
        if (group.length > FEW || known[link[s] >> 2] === 2) is = 2;
      }
    }
    for (const q of group) known[q] = is;
    return is === 1;
  };
}

/** True when the file is in the order of the log: nearly every record is followed by one close by, and often by one that touches it. */
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
    // Back to the lane's first quad, or once around a ring.
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
