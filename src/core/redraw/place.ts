import type { Column } from '../intake/types.ts';
import type { RecordedBands } from '../observe/types.ts';
import type { Passes } from '../track/types.ts';

/** A record is the whole of its section within this, meters; a narrower one was cut, on an unknown side. */
const SAME_M = 0.045;
/** Part of the records of whole bars that must bear a section's number in its place. */
const SURE = 0.9;

/**
 * Where the frame was in bars of which only the section numbers tell it: lone sections whose place among the bands their widths and neighbors leave open. What
 * a number means is learned from the bars whose place is known. Returns the middles of all bars, as in `RecordedBands.middleM`.
 */
export function middlesBySection(passes: Passes, bands: RecordedBands, section: Column | null): Float64Array {
  const middleM = bands.middleM.slice();
  if (section === null || !middleM.some(Number.isNaN)) return middleM;
  const { barStart, barQuad, leftM, rightM, quads, bars } = passes;
  const label = (i: number): number | string => {
    const r = quads.record[barQuad[i]];
    return section.kind === 'number' ? section.values[r] : section.words[section.codes[r]];
  };
  const slots = slotsOf(passes, bands, label);
  for (let b = 0; b < bars; b++) {
    if (!Number.isNaN(middleM[b])) continue;
    const segment = bands.segments[bands.segment[b]];
    if (!segment) continue;
    let sum = 0;
    let n = 0;
    for (let i = barStart[b]; i < barStart[b + 1]; i++) {
      const band = segment.bands[slots.get(`${bands.segment[b]} ${label(i)}`) ?? -1];
      if (!band || Math.abs(rightM[i] - leftM[i] - (band.rightM - band.leftM)) > SAME_M) continue;
      sum += (leftM[i] + rightM[i] - band.leftM - band.rightM) / 2;
      n++;
    }
    if (n > 0) middleM[b] = sum / n;
  }
  return middleM;
}

/** Band that a section's number means, by segment and number; numbers with several meanings are left out. */
function slotsOf(
  { barStart, bars }: Passes,
  bands: RecordedBands,
  label: (i: number) => number | string,
): Map<string, number> {
  const seen = new Map<string, Map<number, number>>();
  for (let b = 0; b < bars; b++) {
    if (bands.full[b] !== 1) continue;
    for (let i = barStart[b]; i < barStart[b + 1]; i++) {
      const key = `${bands.segment[b]} ${label(i)}`;
      const counts = seen.get(key) ?? new Map<number, number>();
      counts.set(bands.slot[i], (counts.get(bands.slot[i]) ?? 0) + 1);
      seen.set(key, counts);
    }
  }
  const out = new Map<string, number>();
  for (const [key, counts] of seen) {
    const all = [...counts.values()].reduce((s, n) => s + n, 0);
    for (const [slot, n] of counts) if (slot >= 0 && n >= SURE * all) out.set(key, slot);
  }
  return out;
}
