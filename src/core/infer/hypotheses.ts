import type { Setting } from '../answer.ts';
import { layoutOf, runName } from '../planter/index.ts';
import type { Band, PlantedLayout, Planter, RowRun } from '../planter/types.ts';
import { FOOT_M } from '../planter/units.ts';
import { isUsual, otherFrames, otherRowCounts, TRADE_SPACINGS_M } from './frames.ts';
import {
  anySections,
  bandsOf,
  centered,
  every,
  type Hypothesis,
  hypothesis,
  inPairs,
  part,
  strideOf,
  TWICE,
} from './hypothesis.ts';
import { priorOf, SETTINGS } from './settings/index.ts';

/** Some of the declared sections joined to their neighbors: edges on declared ones only, and fewer of them. */
function mergedSections(planter: Planter, layout: PlantedLayout, logPrior: number): Hypothesis {
  const bands = bandsOf(layout.sectionBands);
  const edges = [bands[0].leftM, ...bands.map((x) => x.rightM)];
  return {
    ...hypothesis('sections-merged', planter, layout, logPrior),
    bands: null,
    edges: () => edges,
    fewerThan: bands.length,
  };
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

/** The same spacing, entered in the other unit and rounded to half a centimeter or a quarter of an inch (common practice): no wrong setting. */
const SAME_SPACING_M = 0.006;
/** Part of the displays with idle sections that have a section for each row unit where the planter file declares sound ones. */
const SINGLES = 0.3;
/** Part of the right displays on which it is so. */
const OTHER_UNIT = 0.1;

/**
 * Everything worth believing about `planter` when `planting` is what was planted. The prior of a setting (`priors.ts`) is shared out
 * over the ways in which it may be wrong, so that the many ways of one setting do not outvote another. Other frames, of which there
 * are thousands, are left out where `inReach` says that a width, meters, is none that the map may hold.
 */
export function hypothesesAbout(
  planter: Planter,
  planting: string,
  inReach: (widthM: number) => boolean,
): Hypothesis[] {
  const out: Hypothesis[] = [];
  const own = layoutOf(planter, planting);
  const whole = (layout: PlantedLayout) => (): Band[] => [
    { leftM: -layout.workingWidthM / 2, rightM: layout.workingWidthM / 2 },
  ];
  const wrong = SETTINGS.map((d) => d.setting).filter((s) => !BANDS_UNTOUCHED.includes(s));
  const right = 1 - wrong.reduce((a, s) => a + priorOf(s), 0);
  out.push(hypothesis(null, planter, own, Math.log(right)));
  const rounded = TRADE_SPACINGS_M.map((s) => s - planter.rowSpacingM).filter(
    (d) => Math.abs(d) > 1e-4 && Math.abs(d) <= SAME_SPACING_M,
  );
  for (const d of rounded) {
    const other = { ...planter, rowSpacingM: planter.rowSpacingM + d };
    out.push(hypothesis(null, other, layoutOf(other, planting), Math.log((right * OTHER_UNIT) / rounded.length)));
  }

  const others = planter.plantings.length - 1;
  for (const p of planter.plantings) {
    const layout = layoutOf(planter, p.name);
    const mine = p.name === planting;
    const here = mine ? 1 : TWICE;
    if (mine) {
      const rowsMoved = anySections(hypothesis('section-rows', planter, layout, part('section-rows', 1)), () => layout);
      const mine = bandsOf(layout.sectionBands);
      out.push({ ...rowsMoved, notOnly: mine.flatMap((b) => [b.leftM, b.rightM]) });
      out.push({
        ...hypothesis('sections-merged', planter, layout, part('sections-merged', 0.15)),
        bands: whole(layout),
      });
      out.push(mergedSections(planter, layout, part('sections-merged', 0.35)));
      if (planter.sections.length > 2) {
        const halves: Planter = { ...planter, sections: inHalves(planter.sections) };
        out.push(hypothesis('sections-merged', halves, layoutOf(halves, p.name), part('sections-merged', 0.15)));
      }
      const joined: Planter = { ...planter, sections: inTwos(planter.sections) };
      if (joined.sections.length < planter.sections.length)
        out.push(hypothesis('sections-merged', joined, layoutOf(joined, p.name), part('sections-merged', 0.35)));
      out.push(...stuckOff(planter, layout, priorOf('section-stuck-off') / 2));
    } else {
      const set = (share: number): Hypothesis =>
        hypothesis('planted-rows', planter, layout, part('planted-rows', share / others));
      out.push(
        set(0.85),
        anySections(set(0.1), () => layout),
        { ...set(0.05), bands: whole(layout) },
      );
    }
    out.push(...idleSections(planter, layout, priorOf('section-idle') * here));
    if (layout.sectionBands.every((b) => b !== null) && layout.rows.length < planter.rows) {
      // Declared soundly; a display may still have a section for each row unit.
      const singles: Planter = { ...planter, sections: every(planter.rows, 1, 1).map((r) => ({ first: r, last: r })) };
      out.push(...idleSections(singles, layoutOf(singles, p.name), priorOf('section-idle') * SINGLES * here));
    }
    // A declared section that straddles two drives is the likelier one.
    const acrossPrior = priorOf('section-across-drives') * here;
    const across = acrossDrives(planter, layout, 0.85 * acrossPrior);
    out.push(...across, ...acrossAnywhere(planter, layout, (across.length ? 0.15 : 1) * acrossPrior, inReach));
    for (const scale of [FOOT_M, 1 / FOOT_M])
      out.push(scaledBy(hypothesis('map-units', planter, layout, part('map-units', 0.25 * here)), scale));
    const near = TRADE_SPACINGS_M.filter((s) => Math.abs(s - planter.rowSpacingM) > SAME_SPACING_M);
    // A spacing is seldom mistaken for one that is half as wide or twice, or for one that few planters have.
    const weight = (s: number): number =>
      (Math.abs(Math.log(s / planter.rowSpacingM)) < 0.5 ? 1 : 0.1) * (isUsual(s) ? 1 : 0.25);
    const all = near.reduce((a, s) => a + weight(s), 0);
    for (const s of near) {
      const scaled = { ...planter, rowSpacingM: s };
      out.push(
        hypothesis('row-spacing', scaled, layoutOf(scaled, p.name), part('row-spacing', (here * weight(s)) / all)),
      );
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
      const counted = countedIn(planter.sections, p.rows);
      const set = (sections: RowRun[], share: number): Hypothesis => {
        const cut = { ...asWide, sections };
        return hypothesis('frame-as-wide', cut, layoutOf(cut, p.name), part('frame-as-wide', share));
      };
      out.push(
        ...(counted ? [set(counted, 0.35)] : []),
        set(inPairs(n), counted ? 0.2 : 0.3),
        set(inPairs(n, true), counted ? 0.2 : 0.3),
        // One section to a row is section for section what the other planting records.
        set(
          every(n, 1, 1).map((r) => ({ first: r, last: r })),
          0.08,
        ),
        anySections(set(asWide.sections, counted ? 0.12 : 0.25), () => wide),
        set(asWide.sections, 0.05),
      );
    }
  }

  out.push(...otherRowCounts(planter, planting, inReach));
  out.push(...otherFrames(planter, own.workingWidthM, inReach));
  return out;
}

/** The declared sections, each counted in its planted rows alone; null where one has none, or where each has one. */
function countedIn(sections: readonly RowRun[], planted: readonly number[]): RowRun[] | null {
  let next = 1;
  const runs = sections.map((s) => {
    const first = next;
    next += planted.filter((r) => r >= s.first && r <= s.last).length;
    return { first, last: next - 1 };
  });
  return runs.every((r) => r.last >= r.first) && runs.some((r) => r.last > r.first) ? runs : null;
}

/** Neighboring sections joined in twos; a one-row section stays alone. */
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

/** Left and right half of two sections or more: what a display may be reset to. */
function inHalves(sections: RowRun[]): RowRun[] {
  const cut = sections.length >> 1;
  return [sections.slice(0, cut), sections.slice(cut)].map((s) => ({ first: s[0].first, last: s[s.length - 1].last }));
}

/** The same bands in a map whose lengths were read in another unit. */
function scaledBy(b: Hypothesis, scale: number): Hypothesis {
  return {
    ...b,
    widthM: b.widthM * scale,
    steersM: b.widthM * scale,
    centerM: b.centerM * scale,
    bands: () => b.bands!().map((x) => ({ leftM: x.leftM * scale, rightM: x.rightM * scale })),
    sections: [scale < 1 ? 'feet' : 'meters'],
  };
}

/** Where the middle of these bands lies, from the frame's center and from the middle of all bands of the layout. */
function middleOf(bands: Band[], layout: PlantedLayout): { centerM: number; asideM: number } {
  const centerM = (bands[0].leftM + bands[bands.length - 1].rightM) / 2;
  return { centerM, asideM: centerM - layout.centerM };
}

/** One declared section that never records; `prior` is shared out over the sections. */
function stuckOff(planter: Planter, layout: PlantedLayout, prior: number): Hypothesis[] {
  if (planter.sections.length < 3) return [];
  return planter.sections.flatMap((run, i) => {
    if (!layout.sectionBands[i]) return [];
    const bands = layout.sectionBands.filter((b, k) => b !== null && k !== i) as Band[];
    const c = centered(bands);
    return [
      {
        ...hypothesis('section-stuck-off', planter, layout, Math.log(prior / planter.sections.length)),
        bands: () => c,
        widthM: c[c.length - 1].rightM - c[0].leftM,
        ...middleOf(bands, layout),
        sections: [runName(run)],
      },
    ];
  });
}

/** Bands of the physical rows of each section, where sections without a planted row record nothing: regular empty strips. */
function idleSections(planter: Planter, layout: PlantedLayout, prior: number): Hypothesis[] {
  const idle = planter.sections.filter((_, i) => layout.sectionBands[i] === null);
  if (idle.length === 0) return [];
  const s = planter.rowSpacingM;
  const x = (row: number): number => (row - (planter.rows + 1) / 2) * s;
  const out: Hypothesis[] = [];
  const physical: Band[] = [];
  const byPlanted: Band[] = [];
  planter.sections.forEach((run, i) => {
    const band = layout.sectionBands[i];
    if (!band) return;
    physical.push({ leftM: x(run.first) - s / 2, rightM: x(run.last) + s / 2 });
    // Only as far as the section's own rows reach, at the width of a planted row, never into an idle neighbor.
    byPlanted.push({
      leftM: Math.max(band.leftM, x(run.first) - s / 2),
      rightM: Math.min(band.rightM, x(run.last) + s / 2),
    });
  });
  for (const bands of [physical, byPlanted]) {
    const c = centered(bands);
    out.push({
      ...hypothesis('section-idle', planter, layout, Math.log(prior / 2)),
      bands: () => c,
      widthM: c[c.length - 1].rightM - c[0].leftM,
      ...middleOf(bands, layout),
      sections: idle.map(runName),
    });
  }
  return out;
}

/** Sections that straddle two drives: their band missing, or cut at the drive line so that only one side records. */
function acrossDrives(planter: Planter, layout: PlantedLayout, prior: number): Hypothesis[] {
  const s = planter.rowSpacingM;
  const lines = planter.drives
    .slice(0, -1)
    .map((d) => ({ after: d.last, x: (d.last + 0.5 - (planter.rows + 1) / 2) * s }));
  const out: Hypothesis[] = [];
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
      const c = centered(bands);
      out.push({
        ...hypothesis('section-across-drives', planter, layout, Math.log(prior / (variants.length * lines.length))),
        bands: () => c,
        widthM: c[c.length - 1].rightM - c[0].leftM,
        ...middleOf(bands, layout),
        sections: [runName(planter.sections[i])],
      });
    }
  }
  return out;
}

/** Part of the sections across two drives that lie within the planter: one that is also the outermost is long, and rare (common practice). */
const WITHIN = 0.8;
/** A section across two drives that is the outermost one reaches at most this many rows beyond the drive line. */
const REACH_ROWS = 8;

/** Sections cut anywhere, and those that straddle a drive line record nothing, or only on one side of it. */
function acrossAnywhere(
  planter: Planter,
  layout: PlantedLayout,
  prior: number,
  inReach: (widthM: number) => boolean,
): Hypothesis[] {
  const lines = planter.drives.slice(0, -1).map((d) => d.last);
  if (lines.length === 0 || layout.rows.length < 3) return [];
  const x = (line: number): number => (line + 0.5 - (planter.rows + 1) / 2) * planter.rowSpacingM;
  const slackM = (strideOf(layout.rows) * planter.rowSpacingM) / 2 + 0.01;
  const { rowBands, rows } = layout;
  const out: Hypothesis[] = [];
  /** Planted rows from the i-th up to the j-th record; those outside are of a section that does not. */
  const add = (i: number, j: number, share: number, holes: boolean): void => {
    const bands = rowBands.slice(i, j + 1);
    const { centerM, asideM } = middleOf(bands, layout);
    const widthM = bands[bands.length - 1].rightM - bands[0].leftM;
    if (!inReach(widthM)) return;
    const off = i > 0 ? [rows[0], rows[i - 1]] : j < rows.length - 1 ? [rows[j + 1], rows[rows.length - 1]] : null;
    out.push({
      ...hypothesis('section-across-drives', planter, layout, Math.log(prior * share)),
      widthM,
      centerM,
      asideM,
      bands: null,
      edges: () => [bands[0].leftM - centerM, ...bands.map((b) => b.rightM - centerM)],
      sections: off ? [`${off[0]}-${off[1]}`] : [],
      ...(holes ? { holes: { at: lines.map((l) => x(l) - centerM), slackM } } : {}),
    });
  };
  add(0, rows.length - 1, WITHIN, true);
  const [first, last] = [lines[0], lines[lines.length - 1]];
  for (let m = first + 1; m <= Math.min(first + REACH_ROWS, planter.rows - 2); m++) {
    const i = rows.findIndex((r) => r > m);
    if (i > 0 && i < rows.length - 1) add(i, rows.length - 1, (1 - WITHIN) / 2 / REACH_ROWS, false);
  }
  for (let m = last; m > Math.max(last - REACH_ROWS, 1); m--) {
    const j = rows.findLastIndex((r) => r < m);
    if (j > 0 && j < rows.length - 1) add(0, j, (1 - WITHIN) / 2 / REACH_ROWS, false);
  }
  return out;
}
