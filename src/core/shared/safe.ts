// Control characters, line and paragraph separators, and marks that turn the direction of writing or are invisible.
// biome-ignore lint/suspicious/noControlCharactersInRegex: they are what is looked for
const UNSAFE = /[\u0000-\u001F\u007F-\u009F\u00AD\u061C\u200B-\u200F\u2028-\u202E\u2060-\u206F\uFEFF\uFFF9-\uFFFB]/g;

/** Text out of a map or planter file, safe to print: no terminal escapes, no line breaks, no hidden or turning marks. */
export function clean(text: string): string {
  return text.replace(UNSAFE, '\uFFFD');
}

/**
 * Text as a cell. A leading = + - @ (also behind blanks, and their full-width forms) starts a formula in spreadsheets, so such
 * text gets an apostrophe before it, which they show as text. So does one behind a semicolon: where that parts cells, as in countries with a decimal
 * comma, a cell begins there, whatever quotes say.
 */
export function cell(text: string): string {
  const c = clean(text);
  const plainNumber = /^-?\d+(\.\d+)?$/.test(c);
  const safe = plainNumber ? c : c.replace(/(^|;)(?=\s*[=+\-@|%\uFF1D\uFF0B\uFF0D\uFF20])/g, "$1'");
  return /[",;\r\n]/.test(safe) ? `"${safe.replace(/"/g, '""')}"` : safe;
}
