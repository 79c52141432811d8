import { readFileSync } from 'node:fs';
import { root } from '../supply/built.ts';

/** The code blocks of one language in the part of the read-me for programmers, in order. */
export function examples(language: 'js' | 'html'): string[] {
  const text = readFileSync(`${root}README.md`, 'utf8');
  const from = text.indexOf('\n## In your own program\n');
  const section = text.slice(from, text.indexOf('\n## ', from + 5));
  return [...section.matchAll(new RegExp(`^\`\`\`${language}\\n([\\s\\S]*?)^\`\`\`$`, 'gm'))].map((m) => m[1]);
}

/** What an example says it prints: the words behind "//" after each `console.log`, up to a comma that begins an explanation. */
export function promised(code: string): string[] {
  return [...code.matchAll(/console\.log\(.*\); \/\/ (.+)$/gm)].map((m) => m[1]);
}
