import type { Setting } from '../answer.ts';
import { layoutOf, runName } from '../planter/index.ts';
import type { Band, PlantedLayout, Planter, RowRun } from '../planter/types.ts';
import { FOOT_M, INCH_M } from '../planter/units.ts';
import { PRIOR, priorOf } from '../priors.ts';

/** One thing the display may have believed, and the bands that it would then have recorded, metres from the middle of the outer edges. */
export interface Belief {
  /** The setting that is wrong when this is true; null when it is what the planter file declares. */
  setting: Setting | null;
  /** Rows that plant, and the gap between them. */
  rows: number;
  rowSpacingM: number;
  planting: string;
  /** Rows of the believed frame. */
  frameRows: number;
  frameSpacingM: number;
  widthM: number;
  /** Working centre from the believed frame's centre, metres right. */
  centreM: number;
  /** Bands when the sections are known; null when any edges on `edges` would do. */
  bands: Band[] | null;
  edges: number[] | null;
  /** Rows of sections whose band is missing or cut, for the words. */
  sections: string[];
  logPrior: number;
  /** Fits only layouts with fewer bands than this. */
  fewerThan?: number;
  /** Fits only layouts with an edge that is none of these. */
  notOnly?: number[];
}

/** Row spacings in use. Common practice. */
const TRADE_SPACINGS_M = [
  ...[6, 7, 7.5, 8, 10, 12, 14, 15, 18, 19, 20, 21, 22, 24, 28, 30, 32, 34, 36, 38, 40].map((v) => v * INCH_M),
  ...[12.5, 15, 19, 25, 37.5, 40, 45, 50, 55, 56, 60, 70, 75, 76, 80, 90, 96.5, 100].map((v) => v / 100),
];

/** Rows closer than this are drilled, and seldom planted (common practice). */
const CLOSEST_ROWS_M = 0.25;

/**
 * Frames at spacings of the trade that are `widthM` wide, metres, within `toleranceM`: what a width alone may be. Rows planted, and the
 * gap between them; two spacings that give the same number of rows are told apart by the closer one.
 */
export function framesOfWidth(widthM: number, toleranceM: number): { rows: number; rowSpacingM: number }[] {
  const best = new Map<number, { rows: number; rowSpacingM: number; off: number }>();
  for (const s of TRADE_SPACINGS_M) {
    const rows = Math.round(widthM / s);
    const off = Math.abs(rows * s - widthM);
    if (s < CLOSEST_ROWS_M || rows < 2 || off > toleranceM) continue;
    const known = best.get(rows);
    if (!known || off < known.off) best.set(rows, { rows, rowSpacingM: s, off });
  }
  return [...best.values()].sort((a, b) => a.rows - b.rows).map(({ rows, rowSpacingM }) => ({ rows, rowSpacingM }));
}

/** Row list with its first two rows' gap in frame rows: 1 for every row, 2 for every other. */
const strideOf = (rows: number[]): number => (rows.length > 1 ? rows[1] - rows[0] : 1);
const every = (n: number, first: number, step: number): number[] => {
  const out: number[] = [];
  for (let r = first; r <= n; r += step) out.push(r);
  return out;
};

/** Shifts bands so that the middle of the outer edges is at 0. */
export function centred(bands: Band[]): Band[] {
  if (bands.length === 0) return bands;
  const mid = (bands[0].leftM + bands[bands.length - 1].rightM) / 2;
  return bands.map((b) => ({ leftM: b.leftM - mid, rightM: b.rightM - mid }));
}

function belief(setting: Setting | null, planter: Planter, layout: PlantedLayout, logPrior: number): Belief {
  const stride = strideOf(layout.rows);
  return {
    setting,
    rows: layout.rows.length,
    rowSpacingM: stride * planter.rowSpacingM,
    planting: layout.planting,
    frameRows: planter.rows,
    frameSpacingM: planter.rowSpacingM,
    widthM: layout.workingWidthM,
    centreM: layout.centreM,
    bands: centred(layout.sectionBands.filter((b) => b !== null)),
    edges: null,
    sections: [],
    logPrior,
  };
}

/** Some of the declared sections joined to their neighbours: edges on declared ones only, and fewer of them. */
function mergedSections(planter: Planter, layout: PlantedLayout, logPrior: number): Belief {
  const b = belief('sections-merged', planter, layout, logPrior);
  const bands = b.bands!;
  return { ...b, bands: null, edges: [bands[0].leftM, ...bands.map((x) => x.rightM)], fewerThan: bands.length };
}

/** Same belief, but with sections cut anywhere between planted rows: the price of each free edge is paid in the fit. */
function anySections(b: Belief, layout: PlantedLayout): Belief {
  const rows = centred(layout.rowBands);
  return { ...b, bands: null, edges: [rows[0].leftM, ...rows.map((r) => r.rightM)] };
}

/** Settings that leave the recorded bands as they are: with them the layout is the declared one. */
const BANDS_UNTOUCHED: Setting[] = [
  'pass-spacing',
  'side-offset',
  'inline-offset',
  'switch-delay',
  'section-order',
  'section-control-off',
  'section-stuck-on',
  'map-repeated',
  'declared-layout',
];
/** Where the planting that was planted is believed wrongly as well, two things are wrong at once. */
const TWICE = 0.1;

/**
 * Everything worth believing about `planter` when `planting` is what was planted. The prior of a setting (`priors.ts`) is shared out
 * over the ways in which it may be wrong, so that the many ways of one setting do not outvote another.
 */
export function beliefsAbout(planter: Planter, planting: string): Belief[] {
  const out: Belief[] = [];
  const own = layoutOf(planter, planting);
  const part = (setting: Setting, share: number): number => Math.log(priorOf(setting) * share);
  const whole = (layout: PlantedLayout): Band[] => [
    { leftM: -layout.workingWidthM / 2, rightM: layout.workingWidthM / 2 },
  ];
  const wrong = (Object.keys(PRIOR) as Setting[]).filter((s) => !BANDS_UNTOUCHED.includes(s));
  out.push(belief(null, planter, own, Math.log(1 - wrong.reduce((a, s) => a + priorOf(s), 0))));

  const others = planter.plantings.length - 1;
  for (const p of planter.plantings) {
    const layout = layoutOf(planter, p.name);
    const mine = p.name === planting;
    const here = mine ? 1 : TWICE;
    if (mine) {
      const rowsMoved = anySections(belief('section-rows', planter, layout, part('section-rows', 1)), layout);
      const mine = centred(layout.sectionBands.filter((b) => b !== null));
      out.push({ ...rowsMoved, notOnly: mine.flatMap((b) => [b.leftM, b.rightM]) });
      out.push({ ...belief('sections-merged', planter, layout, part('sections-merged', 0.2)), bands: whole(layout) });
      out.push(mergedSections(planter, layout, part('sections-merged', 0.2)));
      const halves: Planter = { ...planter, sections: inHalves(planter.sections) };
      if (planter.sections.length > 2)
        out.push(belief('sections-merged', halves, layoutOf(halves, p.name), part('sections-merged', 0.2)));
      const joined: Planter = { ...planter, sections: inTwos(planter.sections) };
      if (joined.sections.length < planter.sections.length)
        out.push(belief('sections-merged', joined, layoutOf(joined, p.name), part('sections-merged', 0.4)));
      out.push(...stuckOff(planter, layout, priorOf('section-stuck-off') / 2));
    } else {
      const set = (share: number): Belief =>
        belief('planted-rows', planter, layout, part('planted-rows', share / others));
      out.push(set(0.85), anySections(set(0.1), layout), { ...set(0.05), bands: whole(layout) });
    }
    out.push(...idleSections(planter, layout, priorOf('section-idle') * here));
    out.push(...acrossDrives(planter, layout, priorOf('section-across-drives') * here));
    for (const scale of [FOOT_M, 1 / FOOT_M])
      out.push(scaledBy(belief('map-units', planter, layout, part('map-units', 0.25 * here)), scale));
    const near = TRADE_SPACINGS_M.filter((s) => Math.abs(s - planter.rowSpacingM) > 1e-4);
    // A spacing is seldom mistaken for one that is half as wide or twice.
    const weight = (s: number): number => (Math.abs(Math.log(s / planter.rowSpacingM)) < 0.5 ? 1 : 0.1);
    const all = near.reduce((a, s) => a + weight(s), 0);
    for (const s of near) {
      const scaled = { ...planter, rowSpacingM: s };
      out.push(belief('row-spacing', scaled, layoutOf(scaled, p.name), part('row-spacing', (here * weight(s)) / all)));
    }
    const stride = strideOf(p.rows);
    if (stride > 1) {
      // Entered as a frame of only those rows that run in this planting.
      const n = p.rows.length;
      const asWide: Planter = {
        ...planter,
        rows: n,
        rowSpacingM: stride * planter.rowSpacingM,
        plantings: [{ name: p.name, rows: every(n, 1, 1), passSpacingM: null }],
        sections: [{ first: 1, last: n }],
      };
      const wide = layoutOf(asWide, p.name);
      const set = (sections: RowRun[], share: number): Belief => {
        const cut = { ...asWide, sections };
        return belief('frame-as-wide', cut, layoutOf(cut, p.name), part('frame-as-wide', share));
      };
      out.push(
        set(inPairs(n), 0.3),
        set(inPairs(n, true), 0.3),
        // One section to a row is section for section what the other planting records.
        set(
          every(n, 1, 1).map((r) => ({ first: r, last: r })),
          0.08,
        ),
        anySections(set(asWide.sections, 0.25), wide),
        set(asWide.sections, 0.05),
      );
    }
  }

  // Other row counts at the declared spacing; neighbouring counts are mixed up most (common practice).
  const strides = [...new Set(planter.plantings.map((p) => strideOf(p.rows)))];
  const most = Math.max(64, planter.rows + 8);
  for (const stride of strides) {
    const here = planter.plantings.some((p) => p.name === planting && strideOf(p.rows) === stride) ? 1 : TWICE;
    const like = planter.plantings.find((p) => strideOf(p.rows) === stride)!;
    for (let n = 2; n <= most; n++) {
      if (n === planter.rows) continue;
      const far = Math.abs(n - planter.rows);
      const near = far <= 2 ? 0.2 : 0.3 / far ** 2;
      for (const first of stride === 1 ? [1] : [1, 2]) {
        const rows = every(n, first, stride);
        if (rows.length < 2) continue;
        const other: Planter = {
          ...planter,
          rows: n,
          plantings: [{ name: like.name, rows, passSpacingM: null }],
          sections: [{ first: 1, last: n }],
        };
        const layout = layoutOf(other, like.name);
        const set = (sections: RowRun[], share: number): Belief => {
          const cut = { ...other, sections };
          const way = share * near * here * (stride === 1 ? 1 : first === 1 ? 0.7 : 0.3);
          return belief('frame-rows', cut, layoutOf(cut, like.name), part('frame-rows', way));
        };
        out.push(
          set(fitted(planter.sections, n), 0.15),
          set(fittedLeft(planter.sections, planter.rows, n), 0.15),
          set(inPairs(n), 0.2),
          set(inPairs(n, true), 0.2),
          anySections(set(other.sections, 0.25), layout),
          set(other.sections, 0.05),
        );
      }
    }
  }
  out.push(...otherFrames(planter, own.workingWidthM));
  return out;
}

/** The declared sections on a frame of `n` rows: what lies beyond is cut off, what is missing falls to the last one. */
function fitted(sections: RowRun[], n: number): RowRun[] {
  const out = sections.filter((s) => s.first <= n).map((s) => ({ first: s.first, last: Math.min(s.last, n) }));
  out[out.length - 1].last = n;
  return out;
}

/** The same, cut off or filled up at the left end. */
function fittedLeft(sections: RowRun[], rows: number, n: number): RowRun[] {
  const turned = sections.map((s) => ({ first: rows + 1 - s.last, last: rows + 1 - s.first })).reverse();
  return fitted(turned, n)
    .map((s) => ({ first: n + 1 - s.last, last: n + 1 - s.first }))
    .reverse();
}

/** Neighbouring sections joined in twos; a one-row section stays alone. */
function inTwos(sections: RowRun[]): RowRun[] {
  const out: RowRun[] = [];
  for (let i = 0; i < sections.length; ) {
    const [a, b] = [sections[i], sections[i + 1]];
    const alone = !b || a.first === a.last || b.first === b.last;
    out.push(alone ? a : { first: a.first, last: b.last });
    i += alone ? 1 : 2;
  }
  return out;
}

/** Left and right half of the sections: what a display may be reset to. */
function inHalves(sections: RowRun[]): RowRun[] {
  const cut = sections.length >> 1;
  return [sections.slice(0, cut), sections.slice(cut)].map((s) => ({ first: s[0].first, last: s[s.length - 1].last }));
}

/** Pairs of rows from the left; the single row of an odd frame last, or beside the centre line. */
function inPairs(n: number, centre = false): RowRun[] {
  const middle = (n + 1) / 2;
  const single = n % 2 === 0 || !centre ? n + 1 : middle % 2 ? middle : middle - 1;
  const out: RowRun[] = [];
  for (let first = 1; first <= n; ) {
    const last = first === single ? first : Math.min(first + 1, n);
    out.push({ first, last });
    first = last + 1;
  }
  return out;
}

/** Frames of another row count and another spacing of the trade: what else a width alone may be. */
function otherFrames(planter: Planter, near: number): Belief[] {
  const out: Belief[] = [];
  for (const s of TRADE_SPACINGS_M) {
    if (Math.abs(s - planter.rowSpacingM) < 1e-4) continue;
    for (let n = 2; n * s < 2 * near + 1; n++) {
      if (
        n === planter.rows ||
        planter.plantings.some(
          (p) => p.rows.length === n && Math.abs(strideOf(p.rows) * planter.rowSpacingM - s) < 1e-4,
        )
      )
        continue;
      const other: Planter = {
        ...planter,
        rows: n,
        rowSpacingM: s,
        plantings: [{ name: 'every row', rows: every(n, 1, 1), passSpacingM: null }],
        sections: [{ first: 1, last: n }],
      };
      const layout = layoutOf(other, 'every row');
      const share = s < CLOSEST_ROWS_M ? 0.0002 : 0.002;
      out.push(anySections(belief('frame-rows', other, layout, Math.log(priorOf('frame-rows') * share)), layout));
    }
  }
  return out;
}

/** The same bands in a map whose lengths were read in another unit. */
function scaledBy(b: Belief, scale: number): Belief {
  return {
    ...b,
    widthM: b.widthM * scale,
    centreM: b.centreM * scale,
    bands: b.bands!.map((x) => ({ leftM: x.leftM * scale, rightM: x.rightM * scale })),
    sections: [scale < 1 ? 'feet' : 'metres'],
  };
}

/** One declared section that never records; `prior` is shared out over the sections. */
function stuckOff(planter: Planter, layout: PlantedLayout, prior: number): Belief[] {
  if (planter.sections.length < 3) return [];
  return planter.sections.flatMap((run, i) => {
    if (!layout.sectionBands[i]) return [];
    const bands = layout.sectionBands.filter((b, k) => b !== null && k !== i) as Band[];
    const c = centred(bands);
    return [
      {
        ...belief('section-stuck-off', planter, layout, Math.log(prior / planter.sections.length)),
        bands: c,
        widthM: c[c.length - 1].rightM - c[0].leftM,
        centreM: (bands[0].leftM + bands[bands.length - 1].rightM) / 2,
        sections: [runName(run)],
      },
    ];
  });
}

/** Bands of the physical rows of each section, where sections without a planted row record nothing: regular empty strips. */
function idleSections(planter: Planter, layout: PlantedLayout, prior: number): Belief[] {
  const idle = planter.sections.filter((_, i) => layout.sectionBands[i] === null);
  if (idle.length === 0) return [];
  const s = planter.rowSpacingM;
  const x = (row: number): number => (row - (planter.rows + 1) / 2) * s;
  const out: Belief[] = [];
  const physical: Band[] = [];
  const byPlanted: Band[] = [];
  planter.sections.forEach((run, i) => {
    const band = layout.sectionBands[i];
    if (!band) return;
    physical.push({ leftM: x(run.first) - s / 2, rightM: x(run.last) + s / 2 });
    // Only as far as the section's own rows reach, at the width of a planted row, never into an idle neighbour.
    byPlanted.push({
      leftM: Math.max(band.leftM, x(run.first) - s / 2),
      rightM: Math.min(band.rightM, x(run.last) + s / 2),
    });
  });
  for (const bands of [physical, byPlanted]) {
    const c = centred(bands);
    out.push({
      ...belief('section-idle', planter, layout, Math.log(prior / 2)),
      bands: c,
      widthM: c[c.length - 1].rightM - c[0].leftM,
      centreM: (bands[0].leftM + bands[bands.length - 1].rightM) / 2,
      sections: idle.map(runName),
    });
  }
  return out;
}

/** Sections that straddle two drives: their band missing, or cut at the drive line so that only one side records. */
function acrossDrives(planter: Planter, layout: PlantedLayout, prior: number): Belief[] {
  const s = planter.rowSpacingM;
  const lines = planter.drives
    .slice(0, -1)
    .map((d) => ({ after: d.last, x: (d.last + 0.5 - (planter.rows + 1) / 2) * s }));
  const out: Belief[] = [];
  for (const line of lines) {
    const i = planter.sections.findIndex((r) => r.first <= line.after && r.last > line.after);
    if (i < 0 || !layout.sectionBands[i]) continue;
    const band = layout.sectionBands[i]!;
    // The drive line lies between two rows; the cut may follow the planted rows on each side of it.
    const leftRows = layout.rows.filter((r) => r >= planter.sections[i].first && r <= line.after).length;
    const rightRows = layout.rows.filter((r) => r > line.after && r <= planter.sections[i].last).length;
    const cutAt = (rows: number): number => {
      const bandIndex = layout.rows.findIndex((r) => r >= planter.sections[i].first) + rows - 1;
      return rows > 0 ? layout.rowBands[bandIndex].rightM : band.leftM;
    };
    const cuts = new Set([line.x, cutAt(leftRows)].filter((x) => x > band.leftM + 1e-6 && x < band.rightM - 1e-6));
    const variants: (Band | null)[] = [null];
    for (const x of cuts) {
      if (leftRows > 0 || rightRows > 0)
        variants.push({ leftM: band.leftM, rightM: x }, { leftM: x, rightM: band.rightM });
    }
    for (const v of variants) {
      const bands = layout.sectionBands.map((b, k) => (k === i ? v : b)).filter((b) => b !== null);
      if (bands.length === 0) continue;
      const c = centred(bands);
      out.push({
        ...belief('section-across-drives', planter, layout, Math.log(prior / (variants.length * lines.length))),
        bands: c,
        widthM: c[c.length - 1].rightM - c[0].leftM,
        centreM: (bands[0].leftM + bands[bands.length - 1].rightM) / 2,
        sections: [runName(planter.sections[i])],
      });
    }
  }
  return out;
}
