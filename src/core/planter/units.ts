import type { Unit } from './types.ts';

/** The international inch and foot (exact since 1959). The US survey foot is never meant: no planter is measured in it. */
export const INCH_M = 0.0254;
export const FOOT_M = 0.3048;
export const MILE_M = 1609.344;
/** 43,560 square feet, exact. */
export const ACRE_M2 = 4046.8564224;
export const HECTARE_M2 = 10_000;

/** `value` of a planter file in meters. Whole fractions of a meter are divided, so that 76.2 cm and 30 in are one number. */
export function toMeters(value: number, unit: Unit): number {
  if (unit === 'in') return (value * 254) / 10_000;
  return unit === 'cm' ? value / 100 : value;
}

export function fromMeters(m: number, unit: Unit): number {
  if (unit === 'in') return (m * 10_000) / 254;
  return unit === 'cm' ? m * 100 : m;
}

/** Length of one row that covers 1/1000 acre, meters. In feet and inches: 522.72 / row width in inches. */
export function rowLengthForThousandthAcreM(rowSpacingM: number): number {
  return ACRE_M2 / 1000 / rowSpacingM;
}

/** Length of one row that covers 1/1000 hectare, meters. */
export function rowLengthForThousandthHectareM(rowSpacingM: number): number {
  return HECTARE_M2 / 1000 / rowSpacingM;
}

/** What the seed for an acre or a hectare costs, as it is written ("95/ac", "230 / ha"), for a hectare; null where it is no such price. */
export function pricePerHa(text: string): number | null {
  const m = /^\s*(\d+(?:\.\d+)?|\.\d+)\s*\/\s*(ac|ha)\s*$/.exec(text);
  const perHa = m ? Number(m[1]) * (m[2] === 'ac' ? HECTARE_M2 / ACRE_M2 : 1) : 0;
  return perHa > 0 && perHa <= 1e6 ? perHa : null;
}

/** Row-to-row distance across a seam between passes `passSpacingM` apart; `rowSpanM` runs from the first planted row to the last. */
export function guessRowM(passSpacingM: number, rowSpanM: number): number {
  return passSpacingM - rowSpanM;
}

/** `v` with at most `digits` decimals, trailing zeros dropped, never "-0". */
export function trim(v: number, digits: number): string {
  const s = v.toFixed(digits);
  const t = s.includes('.') ? s.replace(/\.?0+$/, '') : s;
  return t === '-0' ? '0' : t;
}

/** A length in the planter file's own unit: "30 in", "20 ft (240 in)", "76.2 cm", "6.096 m". */
export function lengthText(m: number, unit: Unit): string {
  if (unit === 'in') {
    const inches = fromMeters(m, 'in');
    if (Math.abs(inches) < 100) return `${trim(inches, 1)} in`;
    return `${trim(inches / 12, 2)} ft (${trim(inches, 1)} in)`;
  }
  return Math.abs(m) < 1 ? `${trim(m * 100, 1)} cm` : `${trim(m, 3)} m`;
}

/** A row gap or seam: never in feet. */
export function gapText(m: number, unit: Unit): string {
  return unit === 'in' ? `${trim(fromMeters(m, 'in'), 1)} in` : `${trim(m * 100, 1)} cm`;
}

/** A distance driven: miles or kilometers once it is long enough, else feet or meters. */
export function distanceText(m: number, unit: Unit): string {
  if (unit === 'in') return m >= MILE_M / 2 ? `${trim(m / MILE_M, 1)} mi` : `${grouped(m / FOOT_M, 0)} ft`;
  return m >= 1000 ? `${trim(m / 1000, 1)} km` : `${grouped(m, 0)} m`;
}

/** "80.25 ac" or "32.48 ha"; three decimals below one, so that a single strip is not "0". Nothing at all is "0 ac". */
export function areaText(m2: number, unit: Unit): string {
  const [v, word] = unit === 'in' ? [m2 / ACRE_M2, 'ac'] : [m2 / HECTARE_M2, 'ha'];
  return Math.abs(v) < 0.0005 ? `0 ${word}` : `${grouped(v, Math.abs(v) < 1 ? 3 : 2)} ${word}`;
}

/** Less than can be written as an area, square meters: nobody acts on it. */
export const TRIFLE_M2 = 5;

/** An area that is there: never "0 ac", but "less than 0.001 ac". */
export function someAreaText(m2: number, unit: Unit): string {
  const text = areaText(m2, unit);
  return text.startsWith('0 ') ? `less than ${text.replace('0 ', '0.001 ')}` : text;
}

/** Thousands grouped with commas, fixed decimals. No locale: the same number is the same bytes everywhere. */
export function grouped(v: number, digits: number): string {
  const [whole, part] = v.toFixed(digits).split('.');
  const g = whole.replace(/\B(?=(\d{3})+$)/g, ',');
  const s = part === undefined ? g : `${g}.${part}`;
  return /^-[0.,]*$/.test(s) ? s.slice(1) : s;
}
