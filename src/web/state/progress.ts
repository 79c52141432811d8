/** One bar for a whole check: the part of the time that each stage takes, measured on maps of 20,000 to 400,000 records. */
const STAGES: readonly (readonly [string, number])[] = [
  ['fetching the sample', 0],
  ['reading the map', 0.4],
  ['finding passes', 0.25],
  ['fitting the layout', 0.1],
  ['measuring covered ground', 0.12],
  ['comparing it with the boundary', 0.03],
  ['measuring planted ground', 0.1],
];

/**
 * Part of the whole that is done when `done` (0 to 1) of `stage` is; never less than `before`. A comparison checks two maps: its stages end in
 * "(before the fix)" and "(after the fix)". A repeated stage, as for each planting, does not move the bar back.
 */
export function overall(stage: string, done: number, before: number): number {
  const [, name, half] = /^(.*?)(?: \((before|after) the fix\))?$/.exec(stage) as RegExpExecArray;
  const whole = along(STAGES, name, done);
  if (whole === null) return before;
  const all = half === undefined ? whole : (whole + (half === 'after' ? 1 : 0)) / 2;
  return Math.max(before, all);
}

/** What follows the check where a map is rebuilt. */
const REDRAWING: readonly (readonly [string, number])[] = [
  ['redrawing bars', 0.1],
  ['measuring the map', 0.2],
  ['measuring the new map', 0.2],
  ['removing ground covered before', 0.5],
];

/** The same for a rebuild, of which the check is the first half. */
export function overallRebuild(stage: string, done: number, before: number): number {
  const checked = along(STAGES, stage, done);
  const redrawn = along(REDRAWING, stage, done);
  if (checked !== null) return Math.max(before, checked / 2);
  return redrawn === null ? before : Math.max(before, 0.5 + redrawn / 2);
}

/** Part that is done of stages one after the other, 0 to 1; null where the stage is none of them. */
function along(stages: readonly (readonly [string, number])[], stage: string, done: number): number | null {
  const at = stages.findIndex(([s]) => s === stage);
  if (at < 0) return null;
  const from = stages.slice(0, at).reduce((sum, [, part]) => sum + part, 0);
  return Math.min(1, from + stages[at][1] * Math.min(1, Math.max(0, done)));
}
