import type { Setting } from '../../answer.ts';
import type { Segment } from '../../observe/types.ts';
import type { PlantedLayout, Planter, Planting } from '../../planter/types.ts';
import type { Hypothesis } from '../hypothesis.ts';

/** A setting in general words. */
export interface Explanation {
  what: string;
  goesWrong: string;
  mapShows: string;
  lookAt: string;
}

/** What the planter file declares, and what was planted. */
export interface Declared {
  planter: Planter;
  planting: Planting;
  layout: PlantedLayout;
}

/** What the hypotheses of a setting depend on. */
export interface About {
  planter: Planter;
  /** What was planted. */
  planting: string;
  /** The records show sections; else each holds the whole width. */
  sections: boolean;
  /** False where the map cannot hold a width, meters: the thousands of other frames are left out there. */
  inReach: (widthM: number) => boolean;
}

/** This share of the setting's prior, as a natural logarithm. */
export type Part = (share: number) => number;

/** What a finding says, and how to confirm it. */
export interface FindingWords {
  says: string;
  check: string;
}

/** The words where the display believed `h` in the segment `e`. Settings that show in seams and at ends have words of their own, from what was measured there. */
export type Words = (declared: Declared, h: Hypothesis, e: Segment) => FindingWords;

/** What a setting is, whatever the map. One file each. */
export interface SettingDefinition {
  readonly setting: Setting;
  /** What a technician calls it, inside a sentence. */
  readonly name: string;
  /**
   * Prior weight: how often this setting is the wrong one, relative to the others. The settings that go wrong most when crops and frames
   * change have the largest. A judgment from common practice, not a count. Only the ratios matter, and only where two settings record the
   * same map: everywhere else the map outweighs them. Confidences are as right as these are.
   */
  readonly prior: number;
  readonly explanation: Explanation;
  /** For a setting that changes the recorded bands: all possible beliefs of the display; its prior is divided among them. */
  readonly hypotheses?: (about: About, part: Part) => Hypothesis[];
  readonly words?: Words;
  /** Its findings name sections by their rows, which depend on the side that the map is seen from. */
  readonly namesSections?: true;
}
