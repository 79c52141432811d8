import { grouped, trim } from '../planter/units.ts';

/** "1 seam", "4 seams". */
export function plural(n: number, one: string, many = `${one}s`): string {
  return `${grouped(n, 0)} ${n === 1 ? one : many}`;
}

/** A share as a percentage with one decimal at most. */
export function percent(share: number): string {
  return `${trim(share * 100, 1)} %`;
}

/** Clock time of a UTC millisecond count, "10:42 on 2026-05-03". */
export function clock(ms: number): string {
  const iso = new Date(ms).toISOString();
  return `${iso.slice(11, 16)} on ${iso.slice(0, 10)}`;
}
