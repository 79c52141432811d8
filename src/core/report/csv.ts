import type { AccountLine } from '../account/types.ts';
import type { Answer, PassDrawing, SeamDrawing } from '../answer.ts';
import { cell } from '../shared/safe.ts';
import { heading } from './json.ts';

const PASS_HEAD = [
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
const ACCOUNT_HEAD = [
  'fact',
  'picture',
  'cause',
  'setting',
  'area_m2',
  'excess_m2',
  'narrowest_m',
  'widest_m',
  'confidence',
  'passes',
  'says',
];
const HEAD = ['map', 'row', ...PASS_HEAD, ...ACCOUNT_HEAD];

/**
 * The account and the passes as one table (RFC 4180: commas, CRLF, quotes doubled): `row` is `account` or `pass`, and the columns of the other
 * kind stay empty. The last three columns of a pass list the neighboring passes and the seam to each of them, in the same order. Text that came
 * out of a map can never be read as a formula by a spreadsheet.
 */
export function toCsv(answer: Answer): string {
  const { report, evidence } = answer;
  const lines = [HEAD.join(',')];
  const map = cell(report.map.source);
  const blank = (n: number): string[] => new Array<string>(n).fill('');
  for (const l of report.account)
    lines.push([map, 'account', ...blank(PASS_HEAD.length), ...accountCells(l)].join(','));
  for (const p of evidence.passes) {
    const seams = evidence.seams.filter((s) => s.passA === p.number || s.passB === p.number);
    lines.push([map, 'pass', ...passCells(p, seams), ...blank(ACCOUNT_HEAD.length)].join(','));
  }
  return `${lines.join('\r\n')}\r\n`;
}

function accountCells(l: AccountLine): string[] {
  return [
    l.fact,
    l.picture,
    l.cause,
    [l.setting, ...(l.or ?? [])].filter((s) => s !== undefined).join(' or '),
    number(l.areaM2, 2),
    number(l.excessM2, 2),
    number(l.widthM[0], 4),
    number(l.widthM[1], 4),
    number(l.confidence, 3),
    cell(l.passes.join(' ')),
    cell(l.says),
  ];
}

function passCells(p: PassDrawing, seams: readonly SeamDrawing[]): string[] {
  return [
    `${p.number}`,
    `${p.bars}`,
    number(p.lengthM, 2),
    number(heading(p.headingDeg), 1),
    number(p.recordedWidthM, 4),
    time(p.startMs),
    time(p.endMs),
    cell(seams.map((s) => (s.passA === p.number ? s.passB : s.passA)).join(' ')),
    cell(seams.map((s) => number(s.recordedM, 4)).join(' ')),
    cell(seams.map((s) => number(s.plantedM, 4)).join(' ')),
  ];
}

function number(v: number, decimals: number): string {
  return Number.isFinite(v) ? (Number(v.toFixed(decimals)) || 0).toFixed(decimals) : '';
}

function time(ms: number | null): string {
  return ms === null ? '' : new Date(ms).toISOString();
}
