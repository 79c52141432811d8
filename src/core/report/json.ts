import type { Answer } from '../answer.ts';
import { jsonText } from './plain.ts';

/** Decimals kept in a report, by the end of the key's name. Everything else is written as it is. */
const DECIMALS: readonly (readonly [RegExp, number])[] = [
  [/M2$/, 2],
  [/(M|95M)$/, 4],
  [/(Pct|Cost|PerHa)$/, 2],
  [/^(confidence|share)$/, 3],
  [/^populationFactor$/, 4],
];

/**
 * The report as JSON, two blanks of indent, one newline at the end; the same answer gives the same bytes. Lengths are meters to
 * 0.1 mm, areas square meters to 0.01 m², percentages to 0.01, confidences and shares to three decimals.
 */
export function toJson(answer: Answer): string {
  return `${jsonText(rounded(answer.report, ''), 2)}\n`;
}

function rounded(v: unknown, key: string): unknown {
  if (typeof v === 'number') {
    if (!Number.isFinite(v)) return null;
    if (key === 'residual') return Number(v.toPrecision(3));
    const rule = DECIMALS.find(([end]) => end.test(key));
    return rule ? round(v, rule[1]) : v;
  }
  if (Array.isArray(v)) return v.map((x) => rounded(x, key));
  if (typeof v === 'object' && v !== null) {
    return Object.fromEntries(Object.entries(v).map(([k, x]) => [k, rounded(x, k)]));
  }
  return v;
}

/** `v` to this many decimals, as the shortest number that says so; never -0. */
export function round(v: number, decimals: number): number {
  const r = Number(v.toFixed(decimals));
  return r === 0 ? 0 : r;
}

/** A heading to 0.1 degree, from 0 up to but not including 360. */
export function heading(deg: number): number {
  return round(deg, 1) % 360;
}
