import { basename } from 'node:path';
import { readPlanter } from '../core/planter/index.ts';
import { drawFrame, type FrameOptions } from '../core/report/index.ts';
import { UserError } from '../core/shared/messages.ts';
import { readText } from '../files.ts';
import type { Io } from './io.ts';
import type { Parsed, Spec } from './options.ts';

export const LAYOUT_OPTIONS: Spec = {
  propose: { value: 'N', says: 'also propose sections for a display that can switch at most N' },
};

/** `guessrow layout`: draws the frame. Status 0 when the declared layout keeps its rules or not: it is a drawing, not a check. */
export async function runLayout(args: Parsed, io: Io): Promise<number> {
  const [path] = args.positionals;
  const options: FrameOptions = {};
  const limit = args.values.propose;
  if (limit !== undefined) {
    if (!/^\d{1,4}$/.test(limit) || Number(limit) < 1)
      throw new UserError(
        'option-value',
        `"${limit}" is not a number of sections.`,
        {},
        'Write a whole number from 1, the most sections that the display can switch.',
      );
    options.propose = Number(limit);
  }
  if (io.paint) options.color = io.paint;
  await io.out(drawFrame(readPlanter(readText(path), basename(path)), options));
  return 0;
}
