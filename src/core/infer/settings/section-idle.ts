import { layoutOf, runName } from '../../planter/index.ts';
import type { Band, PlantedLayout, Planter } from '../../planter/types.ts';
import { centered, every, type Hypothesis, hypothesis, middleOf, SECOND_FAULT_PRIOR } from '../hypothesis.ts';
import type { SettingDefinition } from './definition.ts';
import { DIG, proposalText, runsText } from './wording.ts';

/** Part of the displays with idle sections that have a section for each row unit where the planter file declares sound ones. */
const SINGLES = 0.3;

export const sectionIdle: SettingDefinition = {
  setting: 'section-idle',
  name: 'sections without a planted row',
  prior: 3,
  namesSections: true,
  explanation: {
    what: 'A section is a run of neighboring rows switched together; in each planting at least one of them must plant.',
    goesWrong:
      'One section per row, or sections of a narrow planting, are kept for a wide one: some sections have nothing to switch.',
    mapShows: 'Regular strips stay empty on every pass, as wide as the idle sections, in every field of that crop.',
    lookAt:
      'The rows of each section. Pairs of rows, and one single row beside the center line of an odd frame, plant in both ways.',
  },
  hypotheses: ({ planter, planting, sections }, part) =>
    planter.plantings.flatMap(({ name }) => {
      const layout = layoutOf(planter, name);
      const here = name === planting ? 1 : SECOND_FAULT_PRIOR;
      const declared = idleSections(planter, layout, part(here));
      if (layout.sectionBands.some((b) => b === null) || layout.rows.length === planter.rows) return declared;
      // The declaration is sound; a display may still have a section for each row unit, whose strips must show.
      if (!sections) return declared;
      const singles: Planter = { ...planter, sections: every(planter.rows, 1, 1).map((r) => ({ first: r, last: r })) };
      return [...declared, ...idleSections(singles, layoutOf(singles, name), part(SINGLES * here))];
    }),
  words: (f, b) => ({
    says: `${b.sections.length === 1 ? `The section of ${runsText(b.sections)} has` : `The sections of ${runsText(b.sections)} have`} no planted row in the "${b.planting}" planting, and ${b.sections.length === 1 ? 'its strip stays' : 'their strips stay'} empty on every pass: the sections do not fit the rows that plant.`,
    check: `Look at the rows of each section in the section setup: every section must hold a row that plants in every crop; for this frame ${proposalText(f)}. ${DIG}`,
  }),
};

/** Bands of the physical rows of each section, where sections without a planted row record nothing: regular empty strips. */
function idleSections(planter: Planter, layout: PlantedLayout, logPrior: number): Hypothesis[] {
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
      ...hypothesis('section-idle', planter, layout, logPrior - Math.LN2),
      bands: () => c,
      widthM: c[c.length - 1].rightM - c[0].leftM,
      ...middleOf(bands, layout),
      sections: idle.map(runName),
    });
  }
  return out;
}
