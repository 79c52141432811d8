import type { Passes } from './types.ts';

/** Recorded ground that lies in no bar of any pass. */
export interface Unplaced {
  /** Records of which more than a hundredth lies in no bar, rising. */
  records: Uint32Array;
  areaM2: number;
  /** Part of the recorded ground, 0 to 1; repeated records count nowhere. */
  share: number;
  /** The record with the most of it, or -1. */
  largest: number;
}

/** A record misses ground when its bars leave out more than this part of it. */
const WHOLE_SHARE = 0.01;

/** What the passes hold, compared with the area of every record, m² (`recordM2`, in record order): nothing that was recorded is lost without a word. */
export function findUnplaced(passes: Passes, recordM2: Float64Array): Unplaced {
  const { corner: c, barQuad, quads } = passes;
  const placed = new Float64Array(recordM2.length);
  for (let i = 0; i < barQuad.length; i++) {
    const o = 8 * i;
    // Half the cross product of the diagonals.
    const area = ((c[o + 4] - c[o]) * (c[o + 7] - c[o + 3]) - (c[o + 6] - c[o + 2]) * (c[o + 5] - c[o + 1])) / 2;
    placed[quads.record[barQuad[i]]] += Math.abs(area);
  }
  for (const r of quads.repeated) placed[r] = recordM2[r];
  const records: number[] = [];
  let all = 0;
  let areaM2 = 0;
  let largest = -1;
  let most = 0;
  for (let r = 0; r < recordM2.length; r++) {
    all += recordM2[r];
    const missing = Math.max(0, recordM2[r] - placed[r]);
    if (missing <= WHOLE_SHARE * recordM2[r]) continue;
    records.push(r);
    areaM2 += missing;
    if (missing <= most) continue;
    most = missing;
    largest = r;
  }
  for (const r of quads.repeated) all -= recordM2[r];
  return { records: Uint32Array.from(records), areaM2, share: all > 0 ? areaM2 / all : 0, largest };
}
