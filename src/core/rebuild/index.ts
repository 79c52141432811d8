import type { Report } from '../answer.ts';
import { checkSource } from '../check.ts';
import type { RecordSet } from '../intake/types.ts';
import { UserError } from '../shared/messages.ts';
import { type Fitted, fitMap } from '../steps/fit/index.ts';
import { type Hooks, jobOf } from '../steps/job.ts';
import { readSource } from '../steps/source.ts';
import { rebuiltBefore } from './before.ts';
import { draw } from './draw.ts';
import type { RebuildInput, Rebuilt } from './types.ts';

export type { RebuildInput, Rebuilt };

/** The map as it should have been. Throws `UserError` when it cannot be used, or when it does not show what was planted. */
export async function rebuild(input: RebuildInput, hooks: Hooks = {}): Promise<Rebuilt> {
  const { records } = await readSource(input, jobOf(input, hooks));
  return rebuildRecords(records, input, hooks);
}

/** Everything after the reading. */
function rebuildRecords(records: RecordSet, input: Omit<RebuildInput, 'map'>, hooks: Hooks = {}): Rebuilt {
  const by = input.by ?? 'section';
  const again = rebuiltBefore(records, input, by);
  if (again) return again;
  const job = jobOf(input, hooks);
  const parts = fitMap(records, job);
  for (const { grain } of parts) refuseGrain(records, grain);
  if (!job.listed) refuseSeveral(records, parts);
  const { report } = checkSource({ records, boundary: null }, job, parts);
  refuseUndecided(records, report);
  const at = (stage: string) => (done: number) => hooks.progress?.(stage, done);
  return draw({ records, machines: parts, report, input, by, at });
}

/** Every machine's display must be known. */
function refuseUndecided({ source }: RecordSet, report: Report): void {
  const machine = report.machines.find((m) => m.verdict === 'undecided');
  const open = machine ?? (report.verdict === 'undecided' ? report : null);
  if (open === null) return;
  const whose = machine && report.machines.length > 1 ? ` of "${machine.name}"` : '';
  throw new UserError(
    'undecided',
    `The map${whose} cannot be rebuilt until it is clear what was recorded. ${open.says}`,
    { file: source },
    open.wouldDecide[0] === undefined ? 'Run "guessrow check" on it.' : `This would decide it: ${open.wouldDecide[0]}`,
  );
}

function refuseGrain(records: RecordSet, grain: string): void {
  if (grain !== 'strip' && grain !== 'blob') return;
  throw new UserError(
    'grain',
    grain === 'strip'
      ? 'The map holds one polygon for each pass, not for each log interval, so there are no bars to redraw.'
      : 'The map is dissolved over the field, so there are no bars to redraw.',
    { file: records.source },
    'Export it again with one polygon for each log interval.',
  );
}

/** With one planter for the whole map: a display draws the map of its own machine, field and planting, and two machines draw two maps. */
function refuseSeveral(records: RecordSet, parts: readonly Fitted[]): void {
  if (parts.length === 1) return;
  const column = parts[0].columns.roles.machine?.name;
  const machines = new Set(parts.map((p) => p.of.machine[0]));
  throw new UserError(
    'several-machines',
    `The map holds several machines, fields or days, to be rebuilt one at a time: ${parts.map((p) => `"${p.name}"`).join(', ')}.`,
    { file: records.source },
    column && machines.size > 1
      ? `Give the planter of each: "--planter ${parts[0].of.machine[0]}=FILE" and so on, or pick the records of one: "--where ${column}=${parts[0].of.machine[0]}".`
      : 'Give the planter of each with "--planter", or pick the records of one by a column that distinguishes them: "--where COLUMN=VALUE".',
  );
}
