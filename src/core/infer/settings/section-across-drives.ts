import { layoutOf, runName } from '../../planter/index.ts';
import type { Band, PlantedLayout, Planter, RowRun } from '../../planter/types.ts';
import { centered, type Hypothesis, hypothesis, middleOf, SECOND_FAULT_PRIOR, strideOf } from '../hypothesis.ts';
import type { Part, SettingDefinition } from './definition.ts';
import { DIG, runsText } from './wording.ts';

/** A declared section that straddles two drives is the likelier one. */
const DECLARED = 0.85;
/** Of the others, those in which the two declared sections at a drive line were entered as one: rarer than a section that drops out there (common practice). */
const MERGED = 0.15;

export const sectionAcrossDrives: SettingDefinition = {
  setting: 'section-across-drives',
  name: 'a section across two drives',
  prior: 3,
  namesSections: true,
  explanation: {
    what: 'A drive is a run of neighboring rows turned by one shaft or motor; a section is switched inside one drive.',
    goesWrong: 'Sections are counted off from the left without regard to where the second drive begins.',
    mapShows: 'The band of the section that straddles the drive line is missing, or cut at that line.',
    lookAt:
      'The rows of that section: end one section with the last row of the first drive and begin the next with the first row of the second.',
  },
  hypotheses: ({ planter, planting, inReach }, part) =>
    planter.plantings.flatMap(({ name }) => {
      const layout = layoutOf(planter, name);
      const here = name === planting ? 1 : SECOND_FAULT_PRIOR;
      const declared = acrossDrives(planter, layout, (share) => part(DECLARED * here * share));
      const merged = mergedAtDrives(planter, name, (share) =>
        part(MERGED * (declared.length > 0 ? 1 - DECLARED : 1) * here * share),
      );
      const rest = (declared.length > 0 ? 1 - DECLARED : 1) * (merged.length > 0 ? 1 - MERGED : 1) * here;
      return [...declared, ...merged, ...acrossAnywhere(planter, layout, (share) => part(rest * share), inReach)];
    }),
  words: (f, b) => ({
    says: `${b.sections.length > 0 ? `The section of ${runsText(b.sections.slice(0, 1))}` : 'A section'} straddles two drives (${f.planter.drives.map((d) => `${d.first}-${d.last}`).join(' and ')}) and does not record as one: its band is missing or cut at the drive line.`,
    check: `Look at the rows of that section in the section setup: no section may cross from one drive to the next; split it at the drive line. ${DIG}`,
  }),
};

/** Sections that straddle two drives: their band missing, or cut at the drive line so that only one side records. */
function acrossDrives(planter: Planter, layout: PlantedLayout, part: Part): Hypothesis[] {
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
        ...hypothesis('section-across-drives', planter, layout, part(1 / (variants.length * lines.length))),
        bands: () => c,
        widthM: c[c.length - 1].rightM - c[0].leftM,
        ...middleOf(bands, layout),
        sections: [runName(planter.sections[i])],
      });
    }
  }
  return out;
}

/** The two declared sections that meet at a drive line, entered as one. */
function mergedAtDrives(planter: Planter, planting: string, part: Part): Hypothesis[] {
  const { sections } = planter;
  const at = planter.drives.slice(0, -1).flatMap((d) => {
    const i = sections.findIndex((s) => s.last === d.last);
    return i >= 0 && i + 1 < sections.length && sections[i + 1].first === d.last + 1 ? [i] : [];
  });
  return at.flatMap((i) => {
    const one: RowRun = { first: sections[i].first, last: sections[i + 1].last };
    const entered = { ...planter, sections: [...sections.slice(0, i), one, ...sections.slice(i + 2)] };
    const all = acrossDrives(entered, layoutOf(entered, planting), (share) => part(share / at.length));
    return all.filter((h) => h.sections[0] === runName(one));
  });
}

/** Part of the sections across two drives that lie within the planter: one that is also the outermost is long, and rare (common practice). */
const WITHIN = 0.8;
/** A section across two drives that is the outermost one reaches at most this many rows beyond the drive line. */
const REACH_ROWS = 8;

/** Sections cut anywhere, and those that straddle a drive line record nothing, or only on one side of it. */
function acrossAnywhere(
  planter: Planter,
  layout: PlantedLayout,
  part: Part,
  inReach: (widthM: number) => boolean,
): Hypothesis[] {
  const lines = planter.drives.slice(0, -1).map((d) => d.last);
  if (lines.length === 0 || layout.rows.length < 3) return [];
  const x = (line: number): number => (line + 0.5 - (planter.rows + 1) / 2) * planter.rowSpacingM;
  const slackM = (strideOf(layout.rows) * planter.rowSpacingM) / 2 + 0.01;
  const { rowBands, rows } = layout;
  const out: Hypothesis[] = [];
  /** Planted rows from the i-th up to the j-th record; those outside belong to a section that does not. */
  const add = (i: number, j: number, share: number, holes: boolean): void => {
    const bands = rowBands.slice(i, j + 1);
    const { centerM, asideM } = middleOf(bands, layout);
    const widthM = bands[bands.length - 1].rightM - bands[0].leftM;
    if (!inReach(widthM)) return;
    const off = i > 0 ? [rows[0], rows[i - 1]] : j < rows.length - 1 ? [rows[j + 1], rows[rows.length - 1]] : null;
    out.push({
      ...hypothesis('section-across-drives', planter, layout, part(share)),
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
