import { layoutOf } from '../../planter/index.ts';
import { anySections, bandsOf, hypothesis } from '../hypothesis.ts';
import { HOLE_M } from '../noise.ts';
import { plural } from '../phrases.ts';
import type { SettingDefinition } from './definition.ts';
import { DIG, sectionRowsText } from './wording.ts';

export const sectionRows: SettingDefinition = {
  setting: 'section-rows',
  name: 'the rows of the sections',
  prior: 5,
  explanation: {
    what: 'Which rows each section switches.',
    goesWrong: 'A section gets one row too many and its neighbor one too few; often after the frame was entered again.',
    mapShows: 'The width is right, and section edges lie at other rows than declared.',
    lookAt: 'The rows of each section, one after the other, against the frame.',
  },
  hypotheses: ({ planter, planting }, part) => {
    const layout = layoutOf(planter, planting);
    const moved = anySections(hypothesis('section-rows', planter, layout, part(1)), () => layout);
    // Two sections share the edge between them; only beside a section without a band there are two.
    const bands = bandsOf(layout.sectionBands);
    const movedFrom = bands.slice(1).flatMap(({ leftM }, i) => {
      const { rightM } = bands[i];
      return leftM - rightM > HOLE_M ? [rightM, leftM] : [leftM];
    });
    return [{ ...moved, movedFrom }];
  },
  words: (f, _b, e) => ({
    says: `Display set to ${plural(e.bands.length, 'section')} with edges at other rows; planter has ${plural(f.planter.sections.length, 'section')}: ${sectionRowsText(f)}. The recorded width is right.`,
    check: `Look at the rows of each section in the section setup: ${sectionRowsText(f)}. ${DIG}`,
  }),
};
