import { existsSync } from 'node:fs';
import { basename } from 'node:path';
import { plantingOf, readPlanter } from '../core/planter/index.ts';
import type { Planter } from '../core/planter/types.ts';
import { UserError } from '../core/shared/messages.ts';
import type { CheckInput, DeclaredPlanter } from '../core/steps/job.ts';
import { readText } from '../files.ts';

interface PlanterOptions {
  planter: Planter;
  /** Given where there is more than one, or a machine is named. */
  planters?: DeclaredPlanter[];
  /** The planter files, as paths. */
  paths: string[];
}

/** "FILE", or "MACHINE=FILE" where no file is called so. Throws `UserError` when one cannot be read as a planter. */
export function planterOptions(values: readonly string[]): PlanterOptions {
  const named = values.map((text) => {
    const at = text.indexOf('=');
    const isFile = at < 1 || existsSync(text);
    return isFile ? { path: text } : { machine: text.slice(0, at).trim(), path: text.slice(at + 1) };
  });
  const planters = named.map(({ machine, path }): DeclaredPlanter => {
    const planter = readPlanter(readText(path), basename(path));
    return machine === undefined ? { planter } : { planter, machine };
  });
  const paths = named.map((n) => n.path);
  const [{ planter }] = planters;
  return planters.length > 1 || planters[0].machine !== undefined ? { planter, planters, paths } : { planter, paths };
}

/** "NAME" for every planter that has a planting of that name, "MACHINE=NAME" for one machine. */
export function plantingOptions(
  values: readonly string[],
  { planter, planters = [{ planter }] }: PlanterOptions,
): Pick<CheckInput, 'planting' | 'plantings'> {
  const out: { planting?: string; plantings?: Record<string, string> } = {};
  const hasIt = (p: Planter, name: string): boolean => p.plantings.some((k) => k.name === name);
  for (const text of values) {
    const at = text.indexOf('=');
    const plain = at < 1 || planters.some((d) => hasIt(d.planter, text));
    if (!plain) {
      out.plantings = { ...out.plantings, [text.slice(0, at).trim()]: text.slice(at + 1).trim() };
      continue;
    }
    if (out.planting !== undefined)
      throw new UserError(
        'option-twice',
        'The option "--planting" is given twice for all machines.',
        {},
        'Give it once, or write "--planting MACHINE=NAME" for each machine.',
      );
    // Refused with the names there are.
    if (!planters.some((d) => hasIt(d.planter, text))) plantingOf(planter, text);
    out.planting = text;
  }
  return out;
}
