import type { RecordSet } from '../../intake/types.ts';
import { layoutOf, listWords, plantingOf } from '../../planter/index.ts';
import type { Planter, Planting } from '../../planter/types.ts';
import { nearest, UserError } from '../../shared/messages.ts';
import { type Origins, partByWidths, partPasses } from '../../track/origins.ts';
import type { Passes } from '../../track/types.ts';
import type { DeclaredPlanter, Job } from '../job.ts';
import type { Part, Track } from './types.ts';

/**
 * One part for each machine in each field; where nothing distinguishes machines and several planters are declared, one for each of their widths.
 */
export function partsOf({ passes, origins }: Track, declared: readonly DeclaredPlanter[]): Part[] {
  const { fields, field } = origins;
  const [names, of] = machinesOf(passes, origins, declared);
  const parts: { m: number; f: number }[] = [];
  for (let m = 0; m < names.length; m++)
    for (let f = 0; f < fields; f++) if (of.some((_, p) => of[p] === m && field[p] === f)) parts.push({ m, f });
  if (parts.length < 2) return [{ machine: [names[parts[0]?.m ?? 0]], label: '', days: [], passes, whole: true }];
  return parts.map(({ m, f }) => ({
    machine: [names[m]],
    label: fields > 1 ? `field ${f + 1}` : '',
    days: [],
    passes: partPasses(passes, (p) => of[p] === m && field[p] === f),
    whole: false,
  }));
}

function machinesOf(
  passes: Passes,
  { machines, machine }: Origins,
  declared: readonly DeclaredPlanter[],
): [names: string[], of: Uint16Array] {
  if (machines.length > 1 || declared.length < 2) return [machines, machine];
  const widths = declared.map(({ planter }) => planter.plantings.map((p) => layoutOf(planter, p.name).workingWidthM));
  return [declared.map((d, i) => d.machine ?? `machine ${i + 1}`), partByWidths(passes, widths)];
}

export const isCalled = (machine: string, name: string | undefined): boolean =>
  name !== undefined && name.toLowerCase() === machine.toLowerCase();

/** A machine or a day that the user names must be in the map; where the map names no machine, a name is useless. */
export function checkNames({ declared, plantings }: Job, { machines, from, dayMs }: Origins, file: string): void {
  const dates = dayMs.map(dateOf).filter((d) => d !== '');
  const planters = declared.flatMap((d) => d.machine ?? []);
  // Machines distinguished by their widths take the names of their planters.
  const own = from === 'one' && declared.length > 1 && planters.length === declared.length;
  const known = own ? planters : machines;
  const wrong = [
    ...planters.filter((name) => !known.some((m) => isCalled(m, name))),
    ...Object.keys(plantings).filter((name) => !known.some((m) => isCalled(m, name)) && !dates.includes(name)),
  ][0];
  if (wrong === undefined) return;
  if (/^\d{4}-\d\d-\d\d$/.test(wrong))
    throw new UserError(
      'planting-day',
      `The map has no day "${wrong}".`,
      { file },
      dates.length > 0 ? `Its days begin on ${listWords(dates)}.` : 'It has no dates.',
    );
  const near = nearest(wrong, machines);
  throw new UserError(
    'planter-machine',
    `The map has no machine "${wrong}".`,
    { file },
    from === 'one'
      ? 'Name the column that distinguishes the machines with "--columns machine=NAME", or give the planter without a machine.'
      : `${near ? `Did you mean "${near}"? ` : ''}Its machines are ${listWords(machines.map((m) => `"${m}"`))}.`,
  );
}

/** The plantings to try for a machine. */
export function wantedOf(planter: Planter, { machine, days }: Part, job: Job): Planting[] {
  const named = Object.entries(job.plantings);
  const own = (named.find(([name]) => days.includes(name)) ??
    named.find(([name]) => machine.some((m) => isCalled(m, name))))?.[1];
  if (own !== undefined) return [plantingOf(planter, own)];
  const { planting } = job;
  // With several planters a planting applies to those that have it.
  const has = planting !== null && (!job.listed || planter.plantings.some((p) => p.name === planting));
  return has ? [plantingOf(planter, planting)] : planter.plantings;
}

/** The column whose values distinguish the fields, with the value of each field; null where there is none. */
export function fieldColumn(
  { columns }: RecordSet,
  parts: readonly Pick<Track, 'passes' | 'origins'>[],
): { name: string; values: string[] } | null {
  for (const c of columns) {
    const { fields } = parts[0].origins;
    const seen: (number | undefined)[] = new Array(fields).fill(undefined);
    let fits = true;
    for (const { passes, origins } of parts)
      for (let p = 0; p + 1 < passes.passStart.length && fits; p++) {
        const field = origins.field[passes.number[p] - 1];
        for (let b = passes.passStart[p]; b < passes.passStart[p + 1] && fits; b++) {
          const r = passes.quads.record[passes.barQuad[passes.barStart[b]]];
          const v = c.kind === 'number' ? c.values[r] : c.codes[r];
          seen[field] ??= v;
          fits = seen[field] === v && (c.kind === 'number' ? !Number.isNaN(v) : v > 0);
        }
      }
    if (!fits || new Set(seen).size < fields) continue;
    return { name: c.name, values: seen.map((v) => (c.kind === 'number' ? String(v) : c.words[v as number])) };
  }
  return null;
}

/** The date of a moment, as the user writes it; empty where it is not known. */
export const dateOf = (ms: number): string => (Number.isNaN(ms) ? '' : new Date(ms).toISOString().slice(0, 10));
