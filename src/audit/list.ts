import { nearest, UserError } from '../core/shared/messages.ts';

const COLUMNS = ['map', 'planter', 'planting', 'boundary', 'layer', 'where', 'crs', 'machine'] as const;
type ListRow = Partial<Record<(typeof COLUMNS)[number], string>> & { map: string };

/**
 * The lines of a list of fields: a CSV (RFC 4180) whose first line names its columns, in any order; only `map` must be there.
 * Semicolons or tabs separate cells too, as spreadsheets write them in some countries. Throws `UserError` naming the line.
 */
export function readList(text: string, file: string): ListRow[] {
  const plain = text.replace(/^\uFEFF/, '');
  if (plain.trim() === '')
    throw new UserError(
      'list-text',
      'The list is empty.',
      { file },
      'Write "map" in its first line, and a map in each line below.',
    );
  if (/[\uFFFD\0]/.test(plain))
    throw new UserError(
      'list-text',
      'The list is not UTF-8 text.',
      { file },
      'Save it as "CSV UTF-8", not as a workbook or in another encoding.',
    );
  const first = plain.split(/\r?\n/, 1)[0];
  const mark = [',', ';', '\t'].reduce((a, b) => (first.split(b).length > first.split(a).length ? b : a));
  const rows = cells(plain, mark, file);
  const head = (rows.shift()?.cells ?? []).map((c) => c.trim().toLowerCase());
  head.forEach((name, i) => {
    if (!COLUMNS.includes(name as never)) {
      const near = nearest(name, COLUMNS);
      throw new UserError(
        'list-column',
        `The list has an unknown column "${name.slice(0, 40)}".`,
        { file },
        near ? `Did you mean "${near}"?` : `Its columns may be ${COLUMNS.join(', ')}.`,
      );
    }
    if (head.indexOf(name) !== i)
      throw new UserError('list-column', `The list has two columns "${name}".`, { file }, 'Keep one of them.');
  });
  if (!head.includes('map'))
    throw new UserError('list-column', 'The list has no column "map".', { file }, 'Name it in the first line.');
  return rows
    .filter((r) => r.cells.some((c) => c.trim() !== ''))
    .map((r) => {
      if (r.cells.length > head.length)
        throw new UserError(
          'list-line',
          `Line ${r.line} of the list has more cells than the first line.`,
          { file },
          'Put a name with a comma in quotes.',
        );
      const row = Object.fromEntries(
        head.flatMap((name, i) => ((r.cells[i] ?? '').trim() === '' ? [] : [[name, r.cells[i].trim()]])),
      ) as ListRow;
      if (row.map === undefined)
        throw new UserError(
          'list-line',
          `Line ${r.line} of the list names no map.`,
          { file },
          'Fill it in, or delete the line.',
        );
      return row;
    });
}

function cells(text: string, mark: string, file: string): { line: number; cells: string[] }[] {
  const rows: { line: number; cells: string[] }[] = [];
  let row: string[] = [];
  let line = 1;
  let began = 1;
  const end = (): void => {
    rows.push({ line: began, cells: row });
    row = [];
  };
  for (let i = 0; i <= text.length; ) {
    let cell = '';
    if (text[i] === '"') {
      const from = line;
      for (i++; ; i++) {
        if (i >= text.length)
          throw new UserError('list-line', `A quote in line ${from} of the list is not closed.`, { file }, 'Close it.');
        if (text[i] === '"' && text[i + 1] === '"') i++;
        else if (text[i] === '"') break;
        if (text[i] === '\n') line++;
        cell += text[i];
      }
      i++;
    }
    while (i < text.length && text[i] !== mark && text[i] !== '\n' && text[i] !== '\r') cell += text[i++];
    row.push(cell);
    if (text[i] === mark) {
      i++;
      continue;
    }
    end();
    if (i >= text.length) break;
    if (text[i] === '\r') i++;
    if (text[i] === '\n') i++;
    began = ++line;
  }
  return rows;
}
