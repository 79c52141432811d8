/** Numbers of the answer as text in the planter file's unit. Input in meters; a number that the map does not give says so. */

import type { Unit } from '../planter/types.ts';
import { fromMeters, gapText, grouped, lengthText, trim } from '../planter/units.ts';

export { areaText, distanceText, gapText, grouped, lengthText, someAreaText } from '../planter/units.ts';

const NOT_KNOWN = 'not known';

export function lengthOr(m: number | null, unit: Unit): string {
  return m === null || Number.isNaN(m) ? NOT_KNOWN : lengthText(m, unit);
}

export function gapOr(m: number | null, unit: Unit): string {
  return m === null || Number.isNaN(m) ? NOT_KNOWN : gapText(m, unit).replace('-', '\u2212');
}

/** The number alone of `gapText`, for labels under a heading that names the unit. */
export function gapNumber(m: number, unit: Unit): string {
  return trim(unit === 'in' ? fromMeters(m, 'in') : m * 100, 1);
}

/** With its sign always shown: "+15 in", "−4 cm", "0 in". */
export function signedGap(m: number, unit: Unit): string {
  const s = gapText(m, unit);
  return /^0 /.test(s) ? s : m > 0 ? `+${s}` : s.replace('-', '\u2212');
}

export function countText(n: number, one: string, many = `${one}s`): string {
  return `${grouped(n, 0)} ${n === 1 ? one : many}`;
}

/** Part of a whole, 0 to 1, never rounded up to certainty or down to nothing. */
export function shareText(share: number): string {
  if (share > 0.99 && share < 1) return 'over 99 %';
  if (share > 0 && share < 0.01) return 'under 1 %';
  return `${Math.round(share * 100)} %`;
}
