/** The output of an audit, opened in the page: its table and its reports. */
import type { Report, Setting } from '../../core/answer.ts';
import { type FieldRow, rowOf } from '../../worker/rows.ts';
import type { Field } from './types.ts';

const REPORT = /^[0-9a-f]{20}\.json$/;

/** The table of an audit among files that were opened together; null where there is none. */
export function auditTable(files: readonly File[]): File | null {
  return files.find((f) => f.name === 'fields.jsonl') ?? null;
}

/** Words that only files of an audit hold, in their first or last bytes. */
const OF_AUDIT = /affected_m2|data-affected="|"audit": ?"guessrow-audit\//;
/** The same for a report of a field, as text or as a page, and as JSON, which can be opened. */
const OF_REPORT = /Account: every gap, overlap and wrong width|<title>Guessrow: /;
const OF_JSON = /^\s*\{\s*"report": ?"guessrow\/1"/;

/** What was written here before: reports that can be opened, a sentence for each file that is neither list nor report; the other files. */
export async function auditLeavings(
  files: readonly File[],
): Promise<{ says: string[]; reports: File[]; rest: File[] }> {
  const says: string[] = [];
  const reports: File[] = [];
  const rest: File[] = [];
  for (const file of files) {
    const ends = new Blob([file.slice(0, 65_536), file.slice(-65_536)]);
    const text = /\.(csv|html|json|parquet|txt)$/i.test(file.name) ? await ends.text() : '';
    if (OF_JSON.test(text)) reports.push(file);
    else if (OF_AUDIT.test(text))
      says.push(
        `"${file.name}" is a part of what an audit wrote. Drop the whole folder of the audit to open its list here, or its fields.jsonl.`,
      );
    else if (OF_REPORT.test(text))
      says.push(
        `"${file.name}" is a report, not a map. Open the map that it is about, or the report that was written as JSON.`,
      );
    else rest.push(file);
  }
  return { says, reports, rest };
}

/** Reports as the list of their fields; a sentence for each file that is none. */
export async function readReports(files: readonly File[]): Promise<{ fields: Field[]; unused: string[] }> {
  const read = await Promise.all(files.map(async (file) => ({ file, report: await readReport(file) })));
  return {
    fields: read.flatMap(({ file, report }) =>
      typeof report === 'string'
        ? []
        : [{ name: report.map.source, files: [], row: rowOf(report), report: file, own: null }],
    ),
    unused: read.flatMap(({ report }) => (typeof report === 'string' ? [report] : [])),
  };
}

/** The fields of an audit, in the order of its table. Throws a sentence where the table cannot be read. */
export async function readAudit(table: File, files: readonly File[]): Promise<Field[]> {
  const reports = new Map(files.filter((f) => REPORT.test(f.name)).map((f) => [f.name.slice(0, 20), f]));
  const lines = (await table.text()).split('\n').filter((l) => l.trim() !== '');
  return lines.map((line, i) => {
    const at = `Line ${i + 1} of "${table.name}" is not a field of an audit. Open the table as the audit wrote it.`;
    const row = parse(line, at);
    const { field, verdict, says, settings, next, report } = row;
    if (typeof field !== 'string' || typeof says !== 'string' || !VERDICTS.has(verdict as string)) throw new Error(at);
    const key = /([0-9a-f]{20})\.\w+$/.exec(String(report ?? ''))?.[1] ?? '';
    return {
      name: field,
      files: [],
      row: {
        verdict: verdict as FieldRow['verdict'],
        // For a program that reads the table; the sentence says it in words.
        says: says.replace(/ \[[a-z-]+\]$/, ''),
        settings: String(settings ?? '')
          .split(' ')
          .filter((s) => s) as Setting[],
        next: String(next ?? ''),
      },
      report: reports.get(key) ?? null,
      own: null,
    };
  });
}

const VERDICTS = new Set(['agrees', 'differs', 'undecided', 'not checked']);

function parse(line: string, sentence: string): Record<string, unknown> {
  try {
    const json: unknown = JSON.parse(line);
    if (typeof json === 'object' && json !== null && !Array.isArray(json)) return json as Record<string, unknown>;
  } catch {
    // Said below.
  }
  throw new Error(sentence);
}

/** A report written with `--format json`, or a sentence that says why it is not one. */
export async function readReport(file: File): Promise<Report | string> {
  const wrong = `"${file.name}" is not a report of this program. Open the folder as the audit wrote it.`;
  try {
    const json = JSON.parse(await file.text()) as Partial<Report>;
    const whole = json.report === 'guessrow/1' && Array.isArray(json.diagnoses) && Array.isArray(json.account);
    return whole && json.map && json.declared ? (json as Report) : wrong;
  } catch {
    return wrong;
  }
}
