import { grouped, trim } from '../planter/units.ts';
import { dayText } from '../shared/dates.ts';

/** "1 seam", "4 seams". */
export function plural(n: number, one: string, many = `${one}s`): string {
  return `${grouped(n, 0)} ${n === 1 ? one : many}`;
}

/** A share as a percentage with one decimal at most. */
export function percent(share: number): string {
  return `${trim(share * 100, 1)} %`;
}

/** Clock time of a UTC millisecond count, "10:42 on May 3, 2026". */
export function clock(ms: number): string {
  return `${new Date(ms).toISOString().slice(11, 16)} on ${dayText(ms)}`;
}
