import { CAUTIONS, UserError } from '../core/messages.ts';
import { nearest } from '../core/planter/nearest.ts';
import { EXPLANATIONS, type Explanation, wrap } from '../core/report/index.ts';
import type { Io } from './io.ts';
import type { Parsed, Spec } from './options.ts';

export const EXPLAIN_OPTIONS: Spec = {};

const PARTS: [keyof Explanation, string][] = [
  ['what', 'What it is'],
  ['goesWrong', 'How it goes wrong'],
  ['mapShows', 'What the map shows'],
  ['lookAt', 'What to look at'],
];

/** `guessrow explain`: the same texts as on the page. */
export async function runExplain(args: Parsed, io: Io): Promise<number> {
  const [name] = args.positionals;
  if (name === undefined) {
    const wide = Math.max(...EXPLANATIONS.map((e) => e.setting.length));
    const list = EXPLANATIONS.map((e) => `  ${e.setting.padEnd(wide)}  ${e.title}`).join('\n');
    await io.out(
      `Settings that a diagnosis can name, in the order in which they are put right:\n\n${list}\n\n"guessrow explain SETTING" tells more.\n`,
    );
    return 0;
  }
  const found = EXPLANATIONS.find((e) => e.setting === name);
  if (!found) {
    const near = nearest(
      name,
      EXPLANATIONS.map((e) => e.setting),
    );
    throw new UserError(
      'unknown-setting',
      `There is no setting "${name}".`,
      {},
      near ? `Did you mean "${near}"?` : 'See "guessrow explain".',
    );
  }
  const blocks = PARTS.map(([key, title]) => [title, ...wrap(found[key], undefined, '  ', '  ')].join('\n'));
  const cautions = CAUTIONS.flatMap((c) => wrap(c, undefined, '  - ', '    ')).join('\n');
  await io.out(`${found.title} (${found.setting})\n\n${blocks.join('\n\n')}\n\nBefore you act on this\n${cautions}\n`);
  return 0;
}
