import { layoutOf } from '../../planter/index.ts';
import { FOOT_M, lengthText as length } from '../../planter/units.ts';
import { type Hypothesis, hypothesis, SECOND_FAULT_PRIOR } from '../hypothesis.ts';
import type { SettingDefinition } from './definition.ts';

export const mapUnits: SettingDefinition = {
  setting: 'map-units',
  name: "the map's units",
  prior: 3,
  explanation: {
    what: 'The unit in which the file writes its coordinates or its width column.',
    goesWrong: 'A projected export loses its projection file, or its feet are read as meters.',
    mapShows:
      'Every width is off by the ratio of foot and meter, and so is the distance between passes: the picture is right and its scale is wrong.',
    lookAt: 'Export again with the projection, or correct the unit in the .prj file.',
  },
  hypotheses: ({ planter, planting }, part) =>
    planter.plantings.flatMap(({ name }) =>
      [FOOT_M, 1 / FOOT_M].map((scale) => {
        const prior = part(0.25 * (name === planting ? 1 : SECOND_FAULT_PRIOR));
        return scaledBy(hypothesis('map-units', planter, layoutOf(planter, name), prior), scale);
      }),
    ),
  words: (f, b, e) => ({
    says: `The map is drawn ${b.sections[0] === 'feet' ? 'too small' : 'too large'} by the ratio of foot and meter: ${length(e.widthM, f.planter.unit)} recorded where ${length(f.layout.workingWidthM, f.planter.unit)} is declared.`,
    check: `Export the map again with its projection, or correct the unit in its .prj: the coordinates were written in ${b.sections[0] === 'feet' ? 'meters and read as feet' : 'feet and read as meters'}. The display needs no change for this.`,
  }),
};

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
