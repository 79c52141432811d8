import { lengthOf } from '../geometry/length.ts';
import { groupBy } from '../shared/groups.ts';
import type { Passes } from '../track/types.ts';
import type { Covered } from './covered.ts';
import type { MeasuredBand, RecordedBands, Segment } from './types.ts';

/** A section at the end of the planter that is missing from whole stretches of the map, over ground that stayed open between covered ground. */
export interface Absence {
  /** Band of the map's main segment, 0-based. */
  slot: number;
  /** Travel over which it was missing there, meters. */
  absentM: number;
  /** Numbers of the passes, rising. */
  passes: number[];
  /** Strips of open ground that do not lie beside one another: two passes that face one leave one. */
  places: number;
}

/** Two bands are one within this at both sides, meters. */
const SAME_M = 0.045;
/** Ground beyond the edge of the planter is looked at this far on, and one section further: a section of the pass that lies there may be missing too. */
const NEXT_PASS_M = 1;
/** A pass counts when its missing section lay over such ground on this part of its way. */
const MOST = 0.8;
/** Two strips are one place when their middles lie within this many section widths across travel. */
const BESIDE = 1.5;

/** Strip that one pass left: its middle, its direction, and its length. */
interface Strip {
  pass: number;
  x: number;
  y: number;
  ux: number;
  uy: number;
  lengthM: number;
}

/** Sections that the segment of most bars has and others lack at one end. `segments` have one layout each from end to end. */
export function findAbsences(passes: Passes, bands: RecordedBands, covered: Covered): Absence[] {
  const { segments } = bands;
  if (segments.length < 2) return [];
  const main = mainOf(segments);
  const all: { slot: number; strip: Strip }[] = [];
  for (const s of segments) {
    if (s === main) continue;
    const found = endsOf(s.bands, main.bands).map((first) =>
      main.bands.flatMap((_, slot) => {
        if (slot >= first && slot < first + s.bands.length) return [];
        return stripsOf(passes, bands, covered, s, main.bands, first, slot).map((strip) => ({ slot, strip }));
      }),
    );
    // Sections of one width fit at either end: where ground is open shows at which one is missing. Open at both ends, the whole frame was narrower.
    found.forEach((own, i) => {
      const others = found.filter((_, k) => k !== i).flat();
      all.push(...own.filter(({ strip }) => !others.some((o) => o.strip.pass === strip.pass)));
    });
  }
  return [...groupBy(all, (s) => s.slot)].map(([slot, own]) => {
    const list = own.map((s) => s.strip);
    return {
      slot,
      absentM: list.reduce((sum, s) => sum + s.lengthM, 0),
      passes: list.map((s) => passes.number[s.pass]).sort((a, b) => a - b),
      places: placesOf(list, main.bands[slot].rightM - main.bands[slot].leftM),
    };
  });
}

/**
 * Per segment: the part of its travel over which the sections of the main segment that it lacks at one end lay wholly on ground that passes of another line covered earlier, where a display with section control shuts them;
 * 0 where it lacks none, or others.
 */
export function shutShares(passes: Passes, bands: RecordedBands, covered: Covered): Float64Array {
  const { segments } = bands;
  const out = new Float64Array(segments.length);
  if (segments.length < 2) return out;
  const main = mainOf(segments);
  const look = new Across(passes, bands, covered);
  segments.forEach((s, i) => {
    if (s === main) return;
    for (const first of endsOf(s.bands, main.bands)) {
      const shiftM = s.bands[0].leftM - main.bands[first].leftM;
      const missing = main.bands.filter((_, k) => k < first || k >= first + s.bands.length);
      let [allM, shutM] = [0, 0];
      for (let bar = s.from; bar < s.to; bar++) {
        if (!look.at(bar)) continue;
        allM += passes.lengthM[bar];
        const lies = missing.every(({ leftM, rightM }) =>
          [0.1, 0.5, 0.9].every((f) => look.wasCovered(shiftM + leftM + f * (rightM - leftM))),
        );
        if (lies) shutM += passes.lengthM[bar];
      }
      if (allM > 0) out[i] = Math.max(out[i], shutM / allM);
    }
  });
  return out;
}

/** The segment of most bars. */
const mainOf = (segments: readonly Segment[]): Segment =>
  segments.reduce((m, s) => (s.to - s.from > m.to - m.from ? s : m));

/** At which ends of `whole` its neighboring bands `part` may lie: the number of the first of them. */
function endsOf(part: readonly MeasuredBand[], whole: readonly MeasuredBand[]): number[] {
  if (part.length === 0 || part.length >= whole.length) return [];
  return [0, whole.length - part.length].filter((first) => {
    const shiftM = whole[first].leftM - part[0].leftM;
    return part.every((b, k) => {
      const w = whole[first + k];
      return Math.abs(w.leftM - b.leftM - shiftM) < SAME_M && Math.abs(w.rightM - b.rightM - shiftM) < SAME_M;
    });
  });
}

/** What band `slot` of `whole` left open in the passes of segment `s`, whose first band is `first` of `whole`. */
function stripsOf(
  passes: Passes,
  bands: RecordedBands,
  covered: Covered,
  s: Segment,
  whole: readonly MeasuredBand[],
  first: number,
  slot: number,
): Strip[] {
  const isLeft = slot < first;
  const shiftM = s.bands[0].leftM - whole[first].leftM;
  // From the missing band that is nearest to what was recorded to this one: what another pass covered is no strip of this one.
  const [from, to] = isLeft ? [slot, first - 1] : [first + s.bands.length, slot];
  const edgeM = (isLeft ? whole[0].leftM : whole[whole.length - 1].rightM) + shiftM;
  const sectionM = whole[slot].rightM - whole[slot].leftM;
  const beyond = [NEXT_PASS_M, NEXT_PASS_M + sectionM].map((m) => edgeM + (isLeft ? -m : m));
  const out: Strip[] = [];
  for (let p = 0; p + 1 < passes.passStart.length; p++) {
    const [a, b] = [Math.max(passes.passStart[p], s.from), Math.min(passes.passStart[p + 1], s.to)];
    let [allM, openM] = [0, 0];
    const look = new Across(passes, bands, covered);
    for (let bar = a; bar < b; bar++) {
      allM += passes.lengthM[bar];
      if (!look.at(bar)) continue;
      const lies = (k: number): boolean =>
        [0.1, 0.5, 0.9].some((f) => look.isCovered(shiftM + whole[k].leftM + f * (whole[k].rightM - whole[k].leftM)));
      let isOpen = beyond.some((m) => look.isCovered(m));
      for (let k = from; k <= to && isOpen; k++) isOpen = !lies(k);
      if (isOpen) openM += passes.lengthM[bar];
    }
    if (openM === 0 || openM < MOST * allM) continue;
    const middle = (a + b) >> 1;
    const [x, y] = look.place(middle, shiftM + (whole[slot].leftM + whole[slot].rightM) / 2);
    const [ux, uy] = [-passes.right[2 * middle + 1], passes.right[2 * middle]];
    out.push({ pass: p, x, y, ux, uy, lengthM: openM });
  }
  return out;
}

/** Points across a bar, meters from the middle of its recorded width, + right. */
class Across {
  private bar = 0;

  constructor(
    private readonly passes: Passes,
    private readonly bands: RecordedBands,
    private readonly covered: Covered,
  ) {}

  /** Goes to a bar; false where its place among the bands is not known. */
  at(bar: number): boolean {
    this.bar = bar;
    return !Number.isNaN(this.bands.middleM[bar]);
  }

  isCovered(u: number): boolean {
    return this.covered.ever(...this.place(this.bar, u));
  }

  /** Whether a pass of another line covered it before this bar. */
  wasCovered(u: number): boolean {
    return this.covered.earlierAcross(...this.place(this.bar, u), this.bar);
  }

  place(bar: number, u: number): [number, number] {
    const { center, right } = this.passes;
    const m = u + (Number.isNaN(this.bands.middleM[bar]) ? 0 : this.bands.middleM[bar]);
    return [center[2 * bar] + m * right[2 * bar], center[2 * bar + 1] + m * right[2 * bar + 1]];
  }
}

/** Strips that lie apart: those in line with one another or side by side are one. */
function placesOf(strips: readonly Strip[], widthM: number): number {
  const apart: Strip[] = [];
  for (const s of strips) {
    const isNear = apart.some((o) => {
      const [dx, dy] = [s.x - o.x, s.y - o.y];
      const across = Math.abs(dx * o.uy - dy * o.ux);
      return across < BESIDE * widthM && lengthOf(dx, dy) < Math.max(s.lengthM, o.lengthM);
    });
    if (!isNear) apart.push(s);
  }
  return apart.length;
}
