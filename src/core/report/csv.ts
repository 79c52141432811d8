import type { Answer } from '../answer.ts';
import { heading } from './json.ts';
import { clean } from './plain.ts';

const HEAD = [
  'map',
  'pass',
  'bars',
  'length_m',
  'heading_deg',
  'recorded_width_m',
  'start_utc',
  'end_utc',
  'seams',
  'seams_recorded_m',
  'seams_planted_m',
];

/**
 * The passes as a table (RFC 4180: commas, CRLF, quotes doubled). The last three columns list the neighbouring passes and the seam
 * to each of them, in the same order. Text that came out of a map can never be read as a formula by a spreadsheet.
 */
export function toCsv(answer: Answer): string {
  const { report, evidence } = answer;
  const lines = [HEAD.join(',')];
  for (const p of evidence.passes) {
    const seams = evidence.seams.filter((s) => s.passA === p.number || s.passB === p.number);
    lines.push(
      [
        cell(report.map.source),
        `${p.number}`,
        `${p.bars}`,
        number(p.lengthM, 2),
        number(heading(p.headingDeg), 1),
        number(p.recordedWidthM, 4),
        time(p.startMs),
        time(p.endMs),
        seams.map((s) => (s.passA === p.number ? s.passB : s.passA)).join(' '),
        seams.map((s) => number(s.recordedM, 4)).join(' '),
        seams.map((s) => number(s.plantedM, 4)).join(' '),
      ]
        .map((text, i) => (i >= 8 ? cell(text) : text))
        .join(','),
    );
  }
  return `${lines.join('\r\n')}\r\n`;
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

function number(v: number, decimals: number): string {
  return Number.isFinite(v) ? (Number(v.toFixed(decimals)) || 0).toFixed(decimals) : '';
}

function time(ms: number | null): string {
  return ms === null ? '' : new Date(ms).toISOString();
}
