import type { UserErrorCode } from '../shared/codes.ts';
import { UserError } from '../shared/messages.ts';

/** The error for records so entangled that the work on them reaches its limit. */
export const entangled = (code: UserErrorCode, sentence: string): UserError =>
  new UserError(
    code,
    sentence,
    {},
    'Look at the map in a map viewer: records of a planter lie side by side. Export it again, or check a part of it.',
  );
