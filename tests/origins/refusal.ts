import type { Answer } from '../../src/core/answer.ts';
import { UserError } from '../../src/core/shared/messages.ts';

/** The error with which a check refuses its input. */
export const refusal = async (answer: Promise<Answer>): Promise<UserError['detail']> => {
  const e = await answer.then(
    () => null,
    (x: unknown) => x,
  );
  if (!(e instanceof UserError)) throw new Error(`no refusal: ${String(e)}`);
  return e.detail;
};
