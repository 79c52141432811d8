/** Points in the order in which they were logged, and the chains of points that follow each other. */
import { metersPerDegree } from '../geometry/ellipsoid.ts';
import { type Note, UserError } from '../shared/messages.ts';
import { shown } from './bytes.ts';
import type { PointColumns, PointTrack } from './point-types.ts';
import type { Staging } from './staging.ts';
import type { Column } from './types.ts';

export interface Points {
  /** Place of each point in the file's used points. */
  order: Uint32Array;
  lon: Float64Array;
  lat: Float64Array;
  columns: Column[];
}

/** Points in the order in which they were logged: that of the file, unless sorting by a column of times or numbers makes the path far shorter. */
export function orderOf(staging: Staging, used: Uint32Array, columns: Column[], source: string, notes: Note[]): Points {
  const n = used.length;
  const lon = Float64Array.from(used, (r) => staging.x(staging.ringStart[staging.recordStart[r]]));
  const lat = Float64Array.from(used, (r) => staging.y(staging.ringStart[staging.recordStart[r]]));
  const way = (order: ArrayLike<number>): number => {
    let sum = 0;
    for (let i = 1; i < n; i++) sum += Math.hypot(lon[order[i]] - lon[order[i - 1]], lat[order[i]] - lat[order[i - 1]]);
    return sum;
  };
  const asFiled = Uint32Array.from({ length: n }, (_, i) => i);
  let best = { order: asFiled, length: way(asFiled) / 1.5, name: '' };
  for (const c of columns) {
    if (!/time|date|clock|stamp|utc|seq|^id$|^fid$|record|index|number/i.test(c.name)) continue;
    const key: ArrayLike<number | string> =
      c.kind === 'number' ? c.values : Array.from(c.codes, (code) => c.words[code]);
    const order = asFiled.slice().sort((a, b) => (key[a] < key[b] ? -1 : key[a] > key[b] ? 1 : a - b));
    const length = way(order);
    if (length < best.length) best = { order, length, name: c.name };
  }
  if (best.name !== '')
    notes.push({
      code: 'points-sorted',
      sentence: `The points are not in the order in which they were logged; they were sorted by the column "${shown(best.name)}".`,
      place: { file: source, key: best.name },
      todo: 'No action needed, unless the passes look wrong on the map.',
    });
  const { order } = best;
  return {
    order,
    lon: Float64Array.from(order, (i) => lon[i]),
    lat: Float64Array.from(order, (i) => lat[i]),
    columns: best.name === '' ? columns : columns.map((c) => pickRows(c, order)),
  };
}

/** Turns of more than 60 degrees from step to step: a tenth of a log at the most, two thirds of points in any order. */
const SHUFFLED = 0.35;
const TURN = Math.cos(Math.PI / 3);
const MOVED_M = 0.3;

export function isShuffled({ x, y }: PointTrack, columns: PointColumns): boolean {
  let turns = 0;
  let steps = 0;
  for (const chain of chainsOf(columns, x.length))
    for (let k = 2; k < chain.length; k++) {
      const [a, b, c] = [chain[k - 2], chain[k - 1], chain[k]];
      const [ux, uy, vx, vy] = [x[b] - x[a], y[b] - y[a], x[c] - x[b], y[c] - y[b]];
      const [u, v] = [Math.hypot(ux, uy), Math.hypot(vx, vy)];
      if (u < MOVED_M || v < MOVED_M) continue;
      steps++;
      if (ux * vx + uy * vy < TURN * u * v) turns++;
    }
  return steps >= 20 && turns > SHUFFLED * steps;
}

export function shuffled(file: string): UserError {
  return new UserError(
    'points-order',
    'The points are not in the order in which they were logged, and no column gives that order, so nothing shows which ground lies between them.',
    { file },
    'Export them with their time, or from the display in the order of the log; a spatial index (FlatGeobuf) changes the order.',
  );
}

export function trackOf(lon: Float64Array, lat: Float64Array): PointTrack {
  const [lon0, lat0] = [lon[0], lat[0]];
  const n = lon.length;
  const out = { x: new Float64Array(n), y: new Float64Array(n) };
  for (let i = 0; i < n; i++) {
    const [mx, my] = metersPerDegree((lat[i] + lat0) / 2);
    out.x[i] = (lon[i] - lon0) * mx;
    out.y[i] = (lat[i] - lat0) * my;
  }
  return out;
}

/** Points that follow each other: all of them, or those of one section. */
export function chainsOf({ sections }: PointColumns, n: number): number[][] {
  if (sections.kind === 'none' || sections.kind === 'states') return [Array.from({ length: n }, (_, i) => i)];
  const out: number[][] = sections.labels.map(() => []);
  for (let i = 0; i < n; i++) out[sections.of[i]]?.push(i);
  return out;
}

export function pickRows(c: Column, rows: Uint32Array): Column {
  return c.kind === 'number'
    ? { ...c, values: Float64Array.from(rows, (r) => c.values[r]) }
    : { ...c, codes: Uint32Array.from(rows, (r) => c.codes[r]) };
}
