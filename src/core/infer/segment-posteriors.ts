import type { Setting } from '../answer.ts';
import type { Segment } from '../observe/types.ts';
import { FEWEST_BARS, LEAST_TRAVEL_M, MOST_SHUT, NAMED, SHORT_SEGMENT } from './decide.ts';
import type { Facts } from './facts.ts';
import type { Ranked } from './likelihood.ts';

/** The evidence of one segment of the map about the layout. */
export interface SegmentPosterior {
  segment: Segment;
  ranked: Ranked[];
  best: Ranked | null;
  /** Probability by setting; `none` is the declared layout. */
  share: Map<Setting | 'none' | 'other', number>;
  agrees: boolean;
}

export function segmentPosteriors(f: Facts): SegmentPosterior[] {
  const all = f.bands.segments.map((segment, i): SegmentPosterior => {
    const { ranked, other } = f.fits[i];
    const share = new Map<Setting | 'none' | 'other', number>([['other', other]]);
    for (const r of ranked) {
      const key = r.hypothesis.setting ?? 'none';
      share.set(key, (share.get(key) ?? 0) + r.probability);
    }
    return { segment, ranked, best: ranked[0] ?? null, share, agrees: (share.get('none') ?? 0) >= NAMED };
  });
  const isLong = ({ from, to, fullBars }: Segment): boolean =>
    to - from > SHORT_SEGMENT * f.passes.bars && fullBars >= FEWEST_BARS;
  const kept = all.filter(
    ({ segment, share }, i) =>
      showsLayout(f, segment) &&
      ((share.get('other') ?? 0) <= NAMED || isLong(segment)) &&
      // What section control shut over covered ground is no part of a layout.
      f.states.shut[i] < MOST_SHUT,
  );
  return kept.length > 0 ? kept : all;
}

/** Whether the whole bars of a segment are many, or go far enough, to show a layout. */
function showsLayout({ bands, passes }: Facts, { from, to, fullBars }: Segment): boolean {
  if (fullBars >= FEWEST_BARS) return true;
  let m = 0;
  for (let b = from; b < to; b++) if (bands.full[b] === 1) m += passes.lengthM[b];
  return m >= LEAST_TRAVEL_M;
}

/** Probability that the layout of a segment is another than that of the segment before it, sections off on purpose included. */
export const changeProbability = (e: Segment): number => 1 / (1 + Math.exp(-e.logOdds));
