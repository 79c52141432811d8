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
  const at = STAGES.findIndex(([s]) => s === name);
  if (at < 0) return before;
  const from = STAGES.slice(0, at).reduce((sum, [, part]) => sum + part, 0);
  const whole = Math.min(1, from + STAGES[at][1] * Math.min(1, Math.max(0, done)));
  const all = half === undefined ? whole : (whole + (half === 'after' ? 1 : 0)) / 2;
  return Math.max(before, all);
}
