import type { Unit } from '../planter/types.ts';

const trim = (v: number, digits: number): string => {
  const s = v.toFixed(digits);
  return s.includes('.') ? s.replace(/\.?0+$/, '') : s;
};

/** A length in the planter file's own unit: "30 in", "20 ft (240 in)", "76.2 cm", "6.1 m". */
export function length(m: number, unit: Unit): string {
  if (unit === 'in') {
    const inches = m / 0.0254;
    if (Math.abs(inches) < 100) return `${trim(inches, 1)} in`;
    return `${trim(inches / 12, 2)} ft (${trim(inches, 1)} in)`;
  }
  return Math.abs(m) < 1 ? `${trim(m * 100, 1)} cm` : `${trim(m, 3)} m`;
}

/** A row gap: never in feet. */
export function gap(m: number, unit: Unit): string {
  if (unit === 'in') return `${trim(m / 0.0254, 1)} in`;
  return `${trim(m * 100, 1)} cm`;
}

export function area(m2: number, unit: Unit): string {
  return unit === 'in' ? `${trim(m2 / 4046.8564224, 2)} ac` : `${trim(m2 / 10_000, 2)} ha`;
}

/** "1 seam", "4 seams". */
export function plural(n: number, one: string, many = `${one}s`): string {
  return `${n.toLocaleString('en-US')} ${n === 1 ? one : many}`;
}

export function percent(share: number): string {
  return `${trim(share * 100, 1)} %`;
}

/** Clock time of a UTC millisecond count, "10:42 on 2026-05-03". */
export function clock(ms: number): string {
  const iso = new Date(ms).toISOString();
  return `${iso.slice(11, 16)} on ${iso.slice(0, 10)}`;
}
