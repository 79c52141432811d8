import { layoutOf } from '../../planter/index.ts';
import type { PlantedLayout, Planter, RowRun } from '../../planter/types.ts';
import { bandsOf, type Hypothesis, hypothesis, wholeWidth } from '../hypothesis.ts';
import { plural } from '../phrases.ts';
import type { SettingDefinition } from './definition.ts';
import { DIG, sectionRowsText } from './wording.ts';

export const sectionsMerged: SettingDefinition = {
  setting: 'sections-merged',
  name: 'the number of sections',
  prior: 5,
  explanation: {
    what: 'How many sections the display switches and records.',
    goesWrong: 'A reset leaves one section over the whole width, or neighbors are joined to stay within a limit.',
    mapShows:
      'The width is right, with fewer sections; the edges that remain are declared ones. A single section looks like a map without sections, unless it shuts off as a whole at slanted edges.',
    lookAt: 'The number of sections, then the rows of each.',
  },
  hypotheses: ({ planter, planting }, part) => {
    const layout = layoutOf(planter, planting);
    const cut = (sections: RowRun[], share: number): Hypothesis => {
      const display: Planter = { ...planter, sections };
      return hypothesis('sections-merged', display, layoutOf(display, planting), part(share));
    };
    const inPairs = inTwos(planter.sections);
    return [
      { ...hypothesis('sections-merged', planter, layout, part(0.15)), bands: wholeWidth(layout) },
      someMerged(planter, layout, part(0.35)),
      ...(planter.sections.length > 2 ? [cut(inHalves(planter.sections), 0.15)] : []),
      ...(inPairs.length < planter.sections.length ? [cut(inPairs, 0.35)] : []),
    ];
  },
  words: (f, _b, e) => ({
    says: `Display set to ${plural(e.bands.length, 'section')}; planter has ${f.planter.sections.length}. The recorded width is right.`,
    check: `Look at the number of sections in the section setup: it must be ${f.planter.sections.length}: ${sectionRowsText(f)}. ${DIG}`,
  }),
};

/** Some of the declared sections joined to their neighbors: edges on declared ones only, and fewer of them. */
function someMerged(planter: Planter, layout: PlantedLayout, logPrior: number): Hypothesis {
  const bands = bandsOf(layout.sectionBands);
  const edges = [bands[0].leftM, ...bands.map((x) => x.rightM)];
  return {
    ...hypothesis('sections-merged', planter, layout, logPrior),
    bands: null,
    edges: () => edges,
    fewerThan: bands.length,
  };
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

/** Left and right half, in two sections or more, as after a reset of the display. */
function inHalves(sections: RowRun[]): RowRun[] {
  const cut = sections.length >> 1;
  return [sections.slice(0, cut), sections.slice(cut)].map((s) => ({ first: s[0].first, last: s[s.length - 1].last }));
}
