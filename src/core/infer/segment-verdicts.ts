import type { Setting } from '../answer.ts';
import type { Segment } from '../observe/types.ts';
import { NAMED, SHORT_SEGMENT } from './decide.ts';
import type { Facts } from './facts.ts';
import type { Ranked } from './likelihood.ts';

/** The evidence of one segment of the map about the layout. */
export interface SegmentVerdict {
  segment: Segment;
  ranked: Ranked[];
  best: Ranked | null;
  /** Probability by setting; `none` is the declared layout. */
  share: Map<Setting | 'none' | 'other', number>;
  agrees: boolean;
}

export function judgeSegments(f: Facts): SegmentVerdict[] {
  const all = f.bands.segments.map((segment, i): SegmentVerdict => {
    const { ranked, other } = f.fits[i];
    const share = new Map<Setting | 'none' | 'other', number>([['other', other]]);
    for (const r of ranked) {
      const key = r.hypothesis.setting ?? 'none';
      share.set(key, (share.get(key) ?? 0) + r.probability);
    }
    return { segment, ranked, best: ranked[0] ?? null, share, agrees: (share.get('none') ?? 0) >= NAMED };
  });
  const kept = all.filter(
    (v) => (v.share.get('other') ?? 0) <= NAMED || v.segment.to - v.segment.from > SHORT_SEGMENT * f.passes.bars,
  );
  return kept.length > 0 ? kept : all;
}

/** Probability that the layout of a segment is another than that of the segment before it, sections off on purpose included. */
export const changed = (e: Segment): number => 1 / (1 + Math.exp(-e.logOdds));
