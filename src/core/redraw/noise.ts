/** Narrower overlaps are positioning noise, meters: the least that a seam diagnosis takes. */
const SEAM_M = 0.05;
/** Less than this is rounding, not ground, m². */
export const NOTHING_M2 = 1e-9;

/**
 * Overlaps up to this are positioning noise, meters. Where the map agrees, seams are right as a whole, and single bars stray: two passes that each
 * stray by the accuracy (standard deviation) meet within sqrt(2) of it, and the widest of 100,000 bars strays 4.3 times that (normal
 * distribution), six times the accuracy. In other maps only what no seam diagnosis would take up is noise.
 */
export function noiseWidthM(accuracyM: number, agrees: boolean): number {
  return Math.max(SEAM_M, (agrees ? 6 : 2) * accuracyM);
}

/**
 * Whether a record reaches over earlier ground by no more than a strip `widthM` wide, and by less than half of itself. `cutM2` is what it shares,
 * `buriedM` the length of its boundary on that ground: the long side of the strip and one short one, the other being the last record's.
 */
export function isNoise(cutM2: number, ownM2: number, buriedM: number, widthM: number): boolean {
  if (cutM2 < NOTHING_M2) return true;
  const stripM = (buriedM - Math.sqrt(Math.max(0, buriedM ** 2 - 4 * cutM2))) / 2;
  return cutM2 < ownM2 / 2 && stripM <= widthM;
}
