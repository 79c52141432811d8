import { existsSync, mkdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { expect } from 'vitest';

/**
 * Compares `text` with `golden/<name>` beside the tests of `folder` (an `import.meta.url`). On a difference the new text is
 * written beside as `<name>-changed`; `UPDATE_GOLDEN=1` takes it over.
 */
export function expectGolden(folder: string, name: string, text: string): void {
  const path = fileURLToPath(new URL(`golden/${name}`, folder));
  const changed = path.replace(/(\.[^.]+)$/, '-changed$1');
  if (process.env.UPDATE_GOLDEN === '1') {
    mkdirSync(fileURLToPath(new URL('golden/', folder)), { recursive: true });
    writeFileSync(path, text);
  }
  const held = existsSync(path) ? readFileSync(path, 'utf8') : '';
  if (held === text) rmSync(changed, { force: true });
  else writeFileSync(changed, text);
  expect(text, `see ${changed}`).toBe(held);
}

/** As `expectGolden` for a page. Every page holds the same style sheet; it is kept once, as `style.css`, and the kept pages name it instead. */
export function expectGoldenPage(folder: string, name: string, html: string): void {
  const parts = html.split(/(?<=<style>\n)|(?=<\/style>)/);
  expect(parts, 'a page with one style sheet').toHaveLength(3);
  const [before, sheet, after] = parts;
  expectGolden(import.meta.url, 'style.css', sheet);
  expectGolden(folder, name, `${before}see tests/report/golden/style.css\n${after}`);
}
