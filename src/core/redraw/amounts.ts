import { median } from '../geometry/stats.ts';
import type { Column } from '../intake/types.ts';
import type { Columns } from '../track/columns/index.ts';

/** Names of seed rates and populations, by unit or by word. */
const RATE = /rate|popul|densit|seeds?[ _-]*(per|\/)|per[ _-]?(ac|ha)|[/_](ac|ha|acre|hectare)$/i;
/** Names that are never a seed rate: targets, counts, totals, areas, and measurements of the machine or the ground. */
const NO_RATE =
  /target|goal|plan(?!t)|presc|desired|fuel|down|force|press|load|speed|count|total|sum|singul|skip|doubl|multi|vacuum|moist|temp|eleva|time|hour|flow|torque|rpm|volt|width|dist|head|area|yield/i;
/** Names of what is counted for each record. */
const AMOUNT = /total|count|bags|kernels|(^|[_ -])seeds?$/i;
const AREA = /area|acre|hectare|(^|[^a-z])(ac|ha)$/i;
/** Travel of a record grows with its area, and stays as it was driven. */
const LENGTH = /dist|len|travel|time|dur|second/i;
/** Square meters in the units that areas are recorded in: acre, hectare, square meter, square foot. */
const AREA_UNITS = [4046.8564224, 10_000, 1, 0.09290304] as const;
/** A column is an area, or rate times area a total, when this many records are this close to it: displays compute with their own width and distance. */
const MOST = 0.9;
const NEAR = 0.05;

/** A column of areas: its values times `unitM2` are the areas of the records, m². */
interface AreaColumn {
  name: string;
  unitM2: number;
}

/**
 * Columns of seed rates that were computed from the recorded area. A column that the user named as the rate is the only one. Else, where rate times area gives
 * a total that the map holds, those that do; else numbers per area by the words or unit of their name, save those that grow with the record's area,
 * which are counts whatever they are called.
 */
export function rateColumns(columns: readonly Column[], found: Columns, recordM2: Float64Array): string[] {
  const role = found.roles.rate;
  if (role?.evidence.startsWith('named by the user')) return [role.name];
  const numbers = columns.filter((c) => c.kind === 'number');
  const areas = new Set(areaColumns(columns, recordM2).columns.map((a) => a.name));
  const totals = numbers.filter(
    (c) => !areas.has(c.name) && !/fuel/i.test(c.name) && (AMOUNT.test(c.name) || growsWithArea(c.values, recordM2)),
  );
  const rates = numbers.filter((c) => !NO_RATE.test(c.name) && !totals.includes(c) && !areas.has(c.name));
  const misses = rates.map((r) => Math.min(1, ...totals.map((t) => missesTotal(r.values, t.values, recordM2))));
  // Of a target rate and an applied rate, both near the total, the one that matches it.
  const least = Math.min(1, ...misses);
  const shown = rates.filter((_, i) => misses[i] < 1 && misses[i] <= 2 * least + 0.001);
  return (shown.length > 0 ? shown : rates.filter((c) => RATE.test(c.name))).map((c) => c.name);
}

/**
 * How far rate times area lies from the total in the mean, as a part of it; 1 where it does not make it: in acres, hectares or square meters, and in seeds,
 * thousands, or bags of 80,000 or 140,000 as the trade fills them.
 */
function missesTotal(rate: Float64Array, total: Float64Array, m2: Float64Array): number {
  const k: number[] = [];
  for (let r = 0; r < rate.length; r++)
    if (rate[r] > 0 && total[r] > 0 && m2[r] > 0) k.push(total[r] / (rate[r] * m2[r]));
  const mid = median(k);
  if (!(mid > 0) || k.length < 0.5 * rate.length) return 1;
  const isUnit = AREA_UNITS.slice(0, 3).some((unit) =>
    [1, 1000, 0.001, 80_000, 140_000].some((seeds) => Math.abs(mid * unit * seeds - 1) < NEAR),
  );
  return isUnit && k.filter((x) => Math.abs(x / mid - 1) < NEAR).length >= MOST * k.length ? spread(k) : 1;
}

/** Half the records of other sizes: the value over the area is much steadier than the value itself. */
function growsWithArea(values: Float64Array, m2: Float64Array): boolean {
  const alone: number[] = [];
  const perM2: number[] = [];
  const sizes: number[] = [];
  for (let r = 0; r < values.length; r++) {
    if (!(values[r] > 0 && m2[r] > 0)) continue;
    alone.push(values[r]);
    perM2.push(values[r] / m2[r]);
    sizes.push(m2[r]);
  }
  return spread(sizes) > 0.05 && spread(perM2) < 0.5 * spread(alone);
}

/** Mean distance from the median, over it. */
function spread(v: number[]): number {
  const mid = median(v);
  return v.length === 0 ? 0 : v.reduce((s, x) => s + Math.abs(x / mid - 1), 0) / v.length;
}

/**
 * Columns that hold each record's area, by their values and the unit that these are in; and, by name, other amounts of a record: those called so, and those
 * that grow with its area.
 */
export function areaColumns(
  columns: readonly Column[],
  recordM2: Float64Array,
): { columns: AreaColumn[]; stale: string[] } {
  const out: { columns: AreaColumn[]; stale: string[] } = { columns: [], stale: [] };
  for (const c of columns) {
    if (c.kind !== 'number') continue;
    const named = (AREA.test(c.name) && !RATE.test(c.name)) || AMOUNT.test(c.name);
    const grows = !LENGTH.test(c.name) && growsWithArea(c.values, recordM2);
    if (!named && !grows) continue;
    const unitM2 = AREA_UNITS.find((unit) => holdsAreas(c.values, recordM2, unit));
    if (unitM2 !== undefined) out.columns.push({ name: c.name, unitM2 });
    else if (c.values.some((v) => v > 0)) out.stale.push(c.name);
  }
  return out;
}

function holdsAreas(values: Float64Array, m2: Float64Array, unitM2: number): boolean {
  const step = 0.5 * 10 ** -decimalsOf(values);
  let known = 0;
  let near = 0;
  for (let r = 0; r < values.length; r++) {
    if (Number.isNaN(values[r])) continue;
    known++;
    const is = m2[r] / unitM2;
    if (Math.abs(values[r] - is) <= Math.max(NEAR * is, 1.02 * step) && values[r] > 0) near++;
  }
  return known > 0 && near >= MOST * known;
}

/** Decimals that the values were written with, 9 at most. */
function decimalsOf(values: Float64Array): number {
  let digits = 0;
  for (const v of values)
    while (digits < 9 && Math.abs(v * 10 ** digits - Math.round(v * 10 ** digits)) > 1e-9 * Math.abs(v) * 10 ** digits)
      digits++;
  return digits;
}
