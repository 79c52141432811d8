/**
 * The first half of the pipeline: passes, columns, machines, and for each machine its planter, layout and the rows that planted.
 *
 * Assumes records on one lattice and at least one declared planter. Guarantees one `Fitted` for each machine, each field that lies apart, and
 * each set of days on which different rows planted; its passes keep the numbers that they have in the whole map.
 *
 * 1. `trace.ts`: records to passes, columns and origins.
 * 2. `split.ts`: which passes are fitted together, and with which planter and plantings.
 * 3. `part.ts`: what the display believed, and the rows that planted.
 */
import { NAMED } from '../../infer/index.ts';
import type { RecordSet } from '../../intake/types.ts';
import type { RecordedBands } from '../../observe/index.ts';
import { listWords } from '../../planter/index.ts';
import type { Planting } from '../../planter/types.ts';
import { dayText } from '../../shared/dates.ts';
import { groupBy } from '../../shared/groups.ts';
import { UserError } from '../../shared/messages.ts';
import { partPasses } from '../../track/origins.ts';
import type { Job } from '../job.ts';
import { fitPart, weightOf } from './part.ts';
import { checkNames, dateOf, isCalled, partsOf, wantedOf } from './split.ts';
import { traceRecords } from './trace.ts';
import type { Fitted, Part, Track } from './types.ts';

export { fieldColumn } from './split.ts';
export type { Fitted, Track } from './types.ts';

/**
 * Throws `UserError` for a machine or a day that the map does not have, and for a machine without a planter. `early` gets the passes and their bands before they
 * are compared with planters; only where they are likely to stay as they are, and their bands are known.
 */
export function fitMap(records: RecordSet, job: Job, early?: (track: Track, bands: RecordedBands) => void): Fitted[] {
  const track = traceRecords(records, job);
  job.progress('fitting the layout', 0);
  const { declared } = job;
  checkNames(job, track.origins, records.source);
  const parts = partsOf(track, declared);
  return parts.flatMap((part) => {
    const own = declared.filter((d) => part.machine.some((m) => isCalled(m, d.machine)));
    const free = own.length > 0 ? own : declared.filter((d) => d.machine === undefined);
    if (free.length === 0)
      throw new UserError(
        'planter-missing',
        `The map has passes of the machine "${part.machine[0]}", for which no planter is given.`,
        { file: records.source },
        `Add "--planter ${part.machine[0]}=FILE", or leave its records out with "--where".`,
      );
    const tell = (bands: RecordedBands): void => {
      if (bands.segments.length > 0) early?.(track, bands);
    };
    const alone = parts.length === 1 && free.length === 1;
    const fits = free.map(({ planter }) =>
      fitPart(track, part, planter, wantedOf(planter, part, job), job, alone ? tell : undefined),
    );
    const best = fits.reduce((a, b) => (weightOf(b.fit) > weightOf(a.fit) ? b : a));
    if (free.length > 1) best.why = `of ${free.length} planters it fits the widths and sections of these passes best`;
    else if (own.length > 0) best.why = 'named for this machine';
    return byDays(track, part, best, job);
  });
}

/** Days on which other rows planted are fitted separately: as the user says, or as each day's own bands fit one planting or another. */
function byDays(track: Track, part: Part, whole: Fitted, job: Job): Fitted[] {
  const { day, dayMs } = track.origins;
  const { passes, planter, why } = whole;
  const days = [...new Set(Array.from(passes.number, (n) => day[n - 1]))].sort((a, b) => a - b);
  if (days.length < 2 || planter.plantings.length < 2) return [whole];
  const dates = days.map((d) => dateOf(dayMs[d]));
  const nameOf = (d: number): string => (Number.isNaN(dayMs[d]) ? `day ${d + 1}` : dayText(dayMs[d]));
  const fitDays = (of: readonly number[], label: string): Fitted => {
    const own: Part = {
      ...part,
      label: part.label === '' ? label : `${part.label}, ${label}`,
      days: of.map((d) => dates[days.indexOf(d)]),
      passes: partPasses(passes, (p) => of.includes(day[passes.number[p] - 1])),
      whole: false,
    };
    return { ...fitPart(track, own, planter, wantedOf(planter, own, job), job), why };
  };
  const named = dates.map((date) => (date === '' ? undefined : job.plantings[date]));
  const single = days.map((d, i) => (whole.plantingFound || named[i] !== undefined ? fitDays([d], nameOf(d)) : whole));
  // A day whose bands fit no declared planting does not show what was planted.
  const planted = single.map((f, i) => named[i] ?? (f.fit.declared >= NAMED ? f.planting.name : null));
  const kinds = [...new Set(planted)].filter((name) => name !== null);
  const twins = new Set(whole.fit.twins);
  if (
    kinds.length < 2 ||
    (named.every((n) => n === undefined) && kinds.every((k) => k === whole.planting.name || twins.has(k)))
  )
    return [whole];
  const groups = groupBy(days, (_, i) => planted[i] ?? kinds[0]);
  return [...groups.values()].map((of) => fitDays(of, listWords(of.map(nameOf))));
}

/** The same part fitted as if `planting` had been planted; only where the planting was found, not named. */
export function refit({ track, of, passes, planter, why }: Fitted, planting: Planting, job: Job): Fitted {
  if (!track) throw new Error('A part whose planting was named has no track to fit another one with.');
  return { ...fitPart(track, { ...of, passes }, planter, [planting], job), why, plantingFound: true };
}
