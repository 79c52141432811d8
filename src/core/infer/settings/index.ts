import type { Finding, Setting } from '../../answer.ts';
import { listWords } from '../../planter/index.ts';
import { changedMidway } from './changed-midway.ts';
import { declaredLayout } from './declared-layout.ts';
import type { SettingDefinition } from './definition.ts';
import { frameAsWide } from './frame-as-wide.ts';
import { frameRows } from './frame-rows.ts';
import { inlineOffset } from './inline-offset.ts';
import { mapRepeated } from './map-repeated.ts';
import { mapUnits } from './map-units.ts';
import { passSpacing } from './pass-spacing.ts';
import { plantedRows } from './planted-rows.ts';
import { rowSpacing } from './row-spacing.ts';
import { sectionAcrossDrives } from './section-across-drives.ts';
import { sectionControlOff } from './section-control-off.ts';
import { sectionIdle } from './section-idle.ts';
import { sectionOrder } from './section-order.ts';
import { sectionRows } from './section-rows.ts';
import { sectionStuckOff } from './section-stuck-off.ts';
import { sectionStuckOn } from './section-stuck-on.ts';
import { sectionsMerged } from './sections-merged.ts';
import { sideOffset } from './side-offset.ts';
import { switchDelay } from './switch-delay.ts';

/**
 * Every setting that can be named, in the steps in which they are corrected: the map before the frame, the frame before what depends on it. Within a step the more certain
 * comes first.
 */
const STEPS: readonly (readonly SettingDefinition[])[] = [
  [mapRepeated, mapUnits],
  [changedMidway],
  [plantedRows, frameAsWide, frameRows, rowSpacing, sectionIdle, sectionAcrossDrives, sectionRows, sectionsMerged],
  [sectionOrder, sectionStuckOff, sectionStuckOn, sectionControlOff, passSpacing],
  [sideOffset],
  [inlineOffset, switchDelay],
  [declaredLayout],
];

export const SETTINGS: readonly SettingDefinition[] = STEPS.flat();

/** The step in which a setting is corrected, from 0. */
export const stepOf = (setting: Setting): number => STEPS.findIndex((s) => s.some((d) => d.setting === setting));

/** The definition of one setting. */
export function definitionOf(setting: Setting): SettingDefinition {
  return SETTINGS.find((s) => s.setting === setting)!;
}

/** Share of checked maps with a wrong setting. A judgment, not a count: a person who checks a map has seen something odd, or has just set up the display. */
const WRONG = 0.75;
const ALL = SETTINGS.reduce((a, s) => a + s.prior, 0);

/** Prior probability that this setting is wrong on a map. */
export const priorOf = (setting: Setting): number => (WRONG * definitionOf(setting).prior) / ALL;

/** Settings inside a sentence. */
export const settingsInWords = (settings: readonly Setting[], last: 'and' | 'or' = 'and'): string =>
  listWords(
    settings.map((s) => definitionOf(s).name),
    last,
  );

/** Findings inside a sentence. Those that the map cannot distinguish are joined by "or". */
export function causesInWords(findings: readonly Pick<Finding, 'setting' | 'or'>[]): string {
  const named = new Set<Setting>();
  const groups = findings.flatMap(({ setting, or = [] }) => {
    if (named.has(setting)) return [];
    const group = [setting, ...or.filter((s) => !named.has(s))];
    for (const s of group) named.add(s);
    return [settingsInWords(group, 'or')];
  });
  return listWords(groups);
}
