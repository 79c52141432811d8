import type { RowRun } from './types.ts';

const RUN = /^\s*(\d{1,6})\s*(?:-\s*(\d{1,6})\s*)?$/;

/** A text of the user's for a sentence, cut where it would not end. */
export function brief(text: string, most = 60): string {
  return text.length > most ? `${text.slice(0, most - 3)}...` : text;
}

/** "7" or "1-2" as a run, or a sentence that says what is wrong with it. */
export function parseRun(text: string, rows: number): RowRun | string {
  const m = RUN.exec(text);
  if (!m) return `"${brief(text)}" is not a run of rows such as "1-2" or "7"`;
  const first = Number(m[1]);
  const last = m[2] === undefined ? first : Number(m[2]);
  if (last < first) return `"${brief(text)}" runs backwards`;
  if (first < 1 || last > rows) return `"${brief(text)}" goes beyond the frame, whose rows are 1 to ${rows}`;
  return { first, last };
}

/** "all", "odd", "even" or a list such as "1-6,10,12" as rising frame rows, or a sentence that says what is wrong with it. */
export function parsePlanting(text: string, rows: number): number[] | string {
  const every = Array.from({ length: rows }, (_, i) => i + 1);
  const word = text.trim();
  if (word === 'all') return every;
  if (word === 'odd' || word === 'even') {
    const some = every.filter((r) => r % 2 === (word === 'odd' ? 1 : 0));
    return some.length > 0 ? some : `"${word}" selects no row of a frame with ${rows} ${rows === 1 ? 'row' : 'rows'}`;
  }
  if (!/^\s*\d/.test(text))
    return `"${brief(text)}" is neither "all", "odd", "even" nor a row list such as "1-6,10,12"`;
  const out = new Set<number>();
  for (const part of text.split(',')) {
    const run = parseRun(part, rows);
    if (typeof run === 'string') return run;
    for (let r = run.first; r <= run.last; r++) {
      if (out.has(r)) return `"${brief(text)}" names row ${r} twice`;
      out.add(r);
    }
  }
  return [...out].sort((a, b) => a - b);
}

/** Null when `runs` hold every row of the frame once, left to right; else a sentence naming the first row that is out of place. */
export function coverFault(runs: readonly RowRun[], rows: number, word: 'section' | 'drive'): string | null {
  let next = 1;
  for (let i = 0; i < runs.length; i++) {
    const { first } = runs[i];
    const here = `${word} ${i + 1} (${runText(runs[i])})`;
    if (first > next)
      return `${rowsText(span(next, first - 1))} ${first - 1 > next ? 'are' : 'is'} in no ${word}: ${here} starts at row ${first}`;
    if (first < next) {
      const other = runs.findIndex((r) => r.first <= first && first <= r.last);
      return other >= 0 && other < i
        ? `row ${first} is in ${word} ${other + 1} and again in ${here}`
        : `${here} is out of order: rows count from 1 at the left end, facing travel`;
    }
    next = runs[i].last + 1;
  }
  return next <= rows ? `${rowsText(span(next, rows))} ${rows > next ? 'are' : 'is'} in no ${word}` : null;
}

export function span(first: number, last: number): number[] {
  return Array.from({ length: last - first + 1 }, (_, i) => first + i);
}

/** "1-2", or "7" for a run of one. */
export function runName(r: RowRun): string {
  return r.first === r.last ? `${r.first}` : `${r.first}-${r.last}`;
}

/** "rows 1-2", "row 7". */
export function runText(r: RowRun): string {
  return r.first === r.last ? `row ${r.first}` : `rows ${r.first}-${r.last}`;
}

/** Rows as a person lists them: "row 7", "rows 1-3 and 9", "rows 2, 4, 6 and 8". Runs of three and more are drawn together. */
export function rowsText(rows: readonly number[]): string {
  return `${rows.length === 1 ? 'row' : 'rows'} ${listNumbers(rows)}`;
}

/** Numbers in rising order as "1-3, 7 and 9". */
export function listNumbers(numbers: readonly number[]): string {
  const parts: string[] = [];
  for (let i = 0; i < numbers.length; ) {
    let j = i;
    while (j + 1 < numbers.length && numbers[j + 1] === numbers[j] + 1) j++;
    if (j - i >= 2) parts.push(`${numbers[i]}-${numbers[j]}`);
    else for (let k = i; k <= j; k++) parts.push(`${numbers[k]}`);
    i = j + 1;
  }
  return listWords(parts);
}

/** Rising numbers as "1-4, 7"; cut short after `most` runs. */
export function runsOf(numbers: readonly number[], most = 8): string {
  const parts: string[] = [];
  const sorted = [...numbers].sort((a, b) => a - b);
  for (let i = 0; i < sorted.length; ) {
    let j = i;
    while (j + 1 < sorted.length && sorted[j + 1] === sorted[j] + 1) j++;
    parts.push(j === i ? `${sorted[i]}` : `${sorted[i]}-${sorted[j]}`);
    i = j + 1;
  }
  return parts.length <= most ? parts.join(', ') : `${parts.slice(0, most).join(', ')} and ${parts.length - most} more`;
}

/** "a", "a and b", "a, b and c"; "a or b" with `last` 'or'. */
export function listWords(words: readonly string[], last: 'and' | 'or' = 'and'): string {
  if (words.length < 2) return words.join('');
  return `${words.slice(0, -1).join(', ')} ${last} ${words[words.length - 1]}`;
}
