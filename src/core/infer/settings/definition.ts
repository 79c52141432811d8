import type { Setting } from '../../answer.ts';

/** A setting in general words. */
export interface Explanation {
  what: string;
  goesWrong: string;
  mapShows: string;
  lookAt: string;
}

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
}
