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
