import type { Column } from '../../intake/types.ts';
import type { Lanes } from '../types.ts';
import { ofAll } from './fits.ts';
import type { MachineOf } from './roles.ts';
import { asked, candidates, isNamed, NAMES, type Search, unreadable } from './roles.ts';

/** More values than this divide a map into passes or loads, not into machines. */
const MOST_MACHINES = 12;
/** Share of the steps along lanes on which the machine stays the same. */
const LEAST_STAYS = 0.98;
/** Two machines at work at the same time take turns in the order of time at every log instant; loads of seed do so a few times a day. */
const LEAST_TURNS = 0.1;

/**
 * The machine: a column of few values that stay along every lane. Its name must say so, or the values must take turns in time, because no
 * machine is in two places at once. A column of one value names the machine and separates nothing; its name alone decides.
 */
export function findMachine(search: Search): void {
  const { lanes, out } = search;
  const own = isNamed(search, 'machine');
  for (const c of candidates(search, 'machine')) {
    const named = NAMES.machine.test(c.name.trim());
    if (!own && !named && !out.timeMs) continue;
    const found = valuesOf(c, own ? Number.POSITIVE_INFINITY : MOST_MACHINES);
    if (found === null || found.names.length === 0) {
      if (own) throw unreadable(search, 'machine', c, 0, 'and no other record more');
      continue;
    }
    // One value takes no turns.
    if (!own && !named && found.names.length === 1) continue;
    const { stays, steps, firstTurn } = alongLanes(found.of, lanes);
    if (own && stays < LEAST_STAYS * steps)
      throw unreadable(search, 'machine', c, firstTurn, 'another value than the record before it in the same pass');
    if (!own && (steps === 0 || stays < LEAST_STAYS * steps)) continue;
    if (!own && acrossFrame(found.of, lanes) > 1 - LEAST_STAYS) continue;
    const turns = found.names.length > 1 && out.timeMs ? turnsInTime(found.of, out.timeMs) : 0;
    if (!own && !named && turns < LEAST_TURNS) continue;
    out.machine = found;
    const takes = turns >= LEAST_TURNS ? ', and they take turns in time' : '';
    const says =
      found.names.length === 1
        ? `one value throughout, "${found.names[0].slice(0, 40)}"`
        : `${found.names.length} values, constant along the passes at ${ofAll(stays, steps)} steps${takes}`;
    out.roles.machine = { name: c.name, evidence: asked(search, 'machine') + says };
    return;
  }
}

/** Distinct values in order; null when there are more than `most`. */
function valuesOf(c: Column, most: number): MachineOf | null {
  const n = c.kind === 'number' ? c.values.length : c.codes.length;
  const index = new Map<number, number>();
  const values = c.kind === 'number' ? c.values : c.codes;
  const of = new Int32Array(n).fill(-1);
  for (let i = 0; i < n; i++) {
    const v = values[i];
    // Of a column of few values most records hold that of the record before.
    if (i > 0 && v === values[i - 1]) {
      of[i] = of[i - 1];
      continue;
    }
    if (Number.isNaN(v) || (c.kind === 'text' && c.words[v].trim() === '')) continue;
    let k = index.get(v);
    if (k === undefined) {
      k = index.size;
      if (k >= most) return null;
      index.set(v, k);
    }
    of[i] = k;
  }
  const keys = [...index.keys()];
  const nameOf = (v: number): string => (c.kind === 'number' ? String(v) : c.words[v].trim());
  const order = keys.map((_, i) => i).sort((a, b) => compare(nameOf(keys[a]), nameOf(keys[b])));
  const rank = new Int32Array(keys.length);
  order.forEach((old, now) => {
    rank[old] = now;
  });
  return { names: order.map((i) => nameOf(keys[i])), of: of.map((k) => (k < 0 ? -1 : rank[k])) };
}

/** Numbers by size, texts by code unit: the same everywhere. */
function compare(a: string, b: string): number {
  const [x, y] = [Number(a), Number(b)];
  if (!Number.isNaN(x) && !Number.isNaN(y)) return x - y;
  return a < b ? -1 : a > b ? 1 : 0;
}

function alongLanes(of: Int32Array, lanes: Lanes): { stays: number; steps: number; firstTurn: number } {
  const { laneStart, laneQuads, quads } = lanes;
  let stays = 0;
  let steps = 0;
  let firstTurn = -1;
  const alongOne = (from: number, to: number): void => {
    for (let k = from + 1; k < to; k++) {
      steps++;
      if (of[quads.record[laneQuads[k]]] === of[quads.record[laneQuads[k - 1]]]) stays++;
      else if (firstTurn < 0) firstTurn = quads.record[laneQuads[k]];
    }
  };
  for (let i = 0; i + 1 < laneStart.length; i++) alongOne(laneStart[i], laneStart[i + 1]);
  return { stays, steps, firstTurn };
}

/** Part of the records side by side in one frame that hold different values: sections have their own widths and names, and share their machine. */
function acrossFrame(of: Int32Array, { quads, right }: Lanes): number {
  let beside = 0;
  let other = 0;
  for (let q = 0; q < quads.count; q++) {
    if (right[q] < 0) continue;
    beside++;
    if (of[quads.record[q]] !== of[quads.record[right[q]]]) other++;
  }
  return beside ? other / beside : 0;
}

/** Part of the log instants, in order of time, at which the value is another than at the instant before. */
function turnsInTime(of: Int32Array, timeMs: Float64Array): number {
  const order = Uint32Array.from(of, (_, i) => i).filter((i) => of[i] >= 0 && !Number.isNaN(timeMs[i]));
  order.sort((a, b) => timeMs[a] - timeMs[b] || of[a] - of[b]);
  let instants = 0;
  let turns = 0;
  for (let k = 1; k < order.length; k++) {
    const [a, b] = [order[k - 1], order[k]];
    if (timeMs[a] !== timeMs[b] || of[a] !== of[b]) instants++;
    if (of[a] !== of[b]) turns++;
  }
  return instants ? turns / instants : 0;
}
