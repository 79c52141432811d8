import { EXPLANATION_PARTS, EXPLANATIONS, explainHtml, SETTING_TITLE, wrap } from '../core/report/index.ts';
import { CAUTIONS, nearest, UserError } from '../core/shared/messages.ts';
import { checkOutput, writeOutput } from '../files.ts';
import type { Io } from './io.ts';
import { formatOption, type Parsed, type Spec } from './options.ts';

const FORMATS = ['text', 'html'] as const;
const ENDS = { text: '.txt', html: '.html' } as const;

export const EXPLAIN_OPTIONS: Spec = {
  format: { value: 'NAME', says: 'text, or html for one page of all settings; text when left out' },
  out: { value: 'FILE', says: 'write there instead of on the screen' },
};

/** `guessrow explain`: the same texts as on the page. */
export async function runExplain(args: Parsed, io: Io): Promise<number> {
  const { out } = args.values;
  const text = formatOption(args, FORMATS, ENDS) === 'html' ? pageOf(args.positionals[0]) : textOf(args.positionals[0]);
  if (out !== undefined) checkOutput(out, []);
  if (out === undefined) await io.out(text);
  else {
    await writeOutput(out, [text]);
    await io.out(`Written to ${out}\n`);
  }
  return 0;
}

function pageOf(name: string | undefined): string {
  if (name !== undefined)
    throw new UserError(
      'extra-argument',
      'The page holds every setting; it is not made for one.',
      {},
      `Leave "${name}" out, or leave "--format html" out.`,
    );
  return explainHtml();
}

function textOf(name: string | undefined): string {
  if (name === undefined) {
    const wide = Math.max(...EXPLANATIONS.map((e) => e.setting.length));
    const list = EXPLANATIONS.map((e) => `  ${e.setting.padEnd(wide)}  ${e.title}`).join('\n');
    return `Settings that a diagnosis can name, in the order in which they are put right:\n\n${list}\n\n"guessrow explain SETTING" says more.\n`;
  }
  const plain = (text: string): string =>
    text
      .trim()
      .toLowerCase()
      .replaceAll(/[\s_]+/g, ' ');
  // A report names a setting by a title, a table by its name, and the list above by both.
  const found = EXPLANATIONS.find(
    (e) =>
      e.setting === plain(name).replaceAll(' ', '-') ||
      [e.title, SETTING_TITLE[e.setting]].some((title) => plain(title) === plain(name)),
  );
  if (!found) {
    const near = nearest(
      plain(name),
      EXPLANATIONS.flatMap((e) => [e.setting, e.title, SETTING_TITLE[e.setting]]),
    );
    throw new UserError(
      'unknown-setting',
      `There is no setting "${name}".`,
      {},
      near ? `Did you mean "${near}"?` : 'See "guessrow explain".',
    );
  }
  const blocks = EXPLANATION_PARTS.map(([key, title]) =>
    [title, ...wrap(found[key], undefined, '  ', '  ')].join('\n'),
  );
  const cautions = CAUTIONS.flatMap((c) => wrap(c, undefined, '  - ', '    ')).join('\n');
  return `${found.title} (${found.setting})\n\n${blocks.join('\n\n')}\n\nBefore you act on this\n${cautions}\n`;
}
