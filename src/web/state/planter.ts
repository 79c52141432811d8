import { readPlanter } from '../../core/planter/index.ts';
import { UserError } from '../../core/shared/messages.ts';
import type { PlanterFrom, PlanterState } from './types.ts';

/** A planter file's text with the planter that it declares, or a sentence that says why it declares none. */
export function readState(text: string, fileName: string, from: PlanterFrom = 'file'): PlanterState {
  try {
    return { from, fileName, text, planter: readPlanter(text, fileName), error: null };
  } catch (error) {
    if (error instanceof UserError) return { from, fileName, text, planter: null, error: error.detail };
    throw error;
  }
}

/** Whether a planter only says what a map says: it was guessed from one, and nothing but its name was changed. */
export function isGuess(state: PlanterState | null): boolean {
  if (state === null) return false;
  return state.from === 'map' || (state.guess !== undefined && machineOf(state.text) === machineOf(state.guess));
}

/** What a planter file says of the machine, without its name, its keys in one order. */
function machineOf(text: string): string {
  try {
    const { name: _, ...rest } = JSON.parse(text) as Record<string, unknown>;
    return JSON.stringify(rest, (_key, value: unknown) =>
      typeof value === 'object' && value !== null && !Array.isArray(value)
        ? Object.fromEntries(Object.entries(value).sort(([a], [b]) => (a < b ? -1 : 1)))
        : value,
    );
  } catch {
    return text;
  }
}
