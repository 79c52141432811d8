import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';

const PATH = fileURLToPath(new URL('last.md', import.meta.url));
const HEAD = '# Last rounds of fuzzing\n';

/** The lines of one section of `last.md`; none before its first run. */
export function lastOf(title: string): string[] {
  return (sections().get(title) ?? '').split('\n');
}

/** Puts `text` in the place of one section of `last.md`. */
export function keepLast(title: string, text: string): void {
  const all = sections().set(title, text.trim());
  writeFileSync(PATH, `${HEAD}${[...all].map(([name, body]) => `\n## ${name}\n\n${body}\n`).join('')}`);
}

function sections(): Map<string, string> {
  const [, ...parts] = existsSync(PATH) ? readFileSync(PATH, 'utf8').split('\n## ') : [];
  return new Map(parts.map((p) => [p.slice(0, p.indexOf('\n')), p.slice(p.indexOf('\n')).trim()]));
}
