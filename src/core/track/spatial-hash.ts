/**
 * A hash table of numbers in which what is close in the field is close in memory: a file mostly goes from
 * neighbor to neighbor, and a table of many megabytes otherwise misses the cache at every lookup. A key is the cell of the field that it lies
 * in and a hash. It is searched in a few adjacent slots that belong to the cell, then (where very much lies on one spot)
 * from a slot that the hash alone decides. What was inserted first is found first.
 */
export class SpatialHash {
  readonly slots: Int32Array;
  private readonly mask: number;

  /** Room for `most` numbers; for the `usual` number of them as much again is left free. */
  constructor(usual: number, most = usual) {
    let size = 2 * BLOCK;
    while (size < 2 * usual || size < 1.2 * most) size *= 2;
    this.slots = new Int32Array(size).fill(-1);
    this.mask = size - 1;
  }

  /** Where to look first. `hash` may be any 32 bits. */
  first(cellX: number, cellY: number, hash: number): number {
    const h = Math.imul(cellX, 0x9e3779b1) ^ Math.imul(cellY, 0x85ebca6b);
    return (((h ^ (h >>> 15)) & this.mask & -BLOCK) | (hash & (BLOCK - 1))) >>> 0;
  }

  /** Where to look when `slot`, the place number `step` from 1, is taken by another key. */
  next(slot: number, step: number, hash: number): number {
    return (step === NEARBY ? hash ^ (hash >>> 13) : slot + 1) & this.mask;
  }
}

/** Places of a cell: one line of the processor's cache. */
const BLOCK = 16;
/** Adjacent slots probed before the hash decides. */
const NEARBY = 32;

/** Bits to cut off a coordinate so that cells are about as large as `size` (in the same steps). */
export function cellBits(size: number): number {
  return 31 - Math.clz32(Math.max(1, Math.min(size, 2 ** 30)));
}
