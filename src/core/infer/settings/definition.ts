import type { Setting } from '../../answer.ts';

/** A setting in general words. */
export interface Explanation {
  title: string;
  what: string;
  goesWrong: string;
  mapShows: string;
  lookAt: string;
}

/** Everything that is known of one setting before a map is looked at. One file each. */
export interface SettingDefinition {
  readonly setting: Setting;
  /** What a technician calls it, inside a sentence. */
  readonly name: string;
  /**
   * How often it is the one that is wrong, against the others: what goes wrong most when crops and frames change comes first. A judgement
   * from common practice, not a count. Only the ratios matter, and only where two settings record the same map: everywhere else the map
   * outweighs them. Confidences are right to the degree that these are.
   */
  readonly prior: number;
  readonly explanation: Explanation;
}
