import { metersPerDegree } from '../geometry/ellipsoid.ts';
import type { Shapes } from '../geometry/shapes.ts';
import { median } from '../geometry/stats.ts';
import { type Note, UserError } from '../shared/messages.ts';
import { finishColumns, type Raw } from './assemble.ts';
import { shown } from './bytes.ts';
import { findInvalid } from './invalid.ts';
import { place } from './lattice.ts';
import type { Limits } from './limits.ts';
import { tooMany } from './limits.ts';
import type { Pace } from './pace.ts';
import { findPointColumns, type PointColumns, stepsOf } from './point-columns.ts';
import { buildRings } from './rings.ts';
import { OUTER, Staging } from './staging.ts';
import type { Column, RecordSet, Skipped } from './types.ts';

/** Points nearer to each other than this are one place, meters. */
const STILL_M = 0.02;
/** A step of twice that at working speed (the one that a tenth of the steps exceed) is a break: the planter was lifted, or a position was lost. */
const BREAK_STEPS = 2;
const AT_SPEED = 0.9;
/** Headings that differ by more than this have no strip of ground between them; cosine. */
const SHARP = Math.cos((75 * Math.PI) / 180);

/**
 * Steps 4 to 6 for a log of points: polygons are laid along the track as a display draws them, and become the records.
 *
 * 1. `findPointColumns`: which column is width, heading, distance, pass, sections.
 * 2. Each point and the one before it (within a pass) make one strip of ground, its corners at the edges of the sections across the heading at either
 *    point. Whether a point's values hold for the strip that ends at it or for the one that begins at it is told from a column of the distance driven;
 *    without one, for the strip that ends at it (common practice: a display closes an interval when it logs it).
 * 3. A point that begins a pass has no point before it: its strip is as long as the distance that it gives, or it has none.
 *
 * Assumes that positions are the middle of the frame. What is not laid is counted in `skipped`. Record numbers are those of the points; a point with
 * several sections on is several records of that number. Throws `UserError` when nothing says how wide the ground is.
 */
export async function assemblePoints(
  raw: Raw,
  overrides: Partial<Record<string, string>>,
  limits: Limits,
  pace: Pace,
): Promise<RecordSet> {
  const { staging, source, notes } = raw;
  await place(staging, true, source, notes, pace);
  const used = Uint32Array.from(rowsUsed(staging));
  const points = finishColumns(raw, used, notes);
  const at = orderOf(staging, used, points, source, notes);
  const track = trackOf(at.lon, at.lat);
  const columns = findPointColumns(at.columns, track, overrides, source, notes);
  if (isShuffled(track, columns)) throw shuffled(source);
  const n = track.x.length;
  const layer = new Layer(at, track, columns);
  for (const chain of chainsOf(columns, track.x.length)) layer.lay(chain);
  layer.leaveUnnumbered();
  const { laid, rowOf, sectionOf } = layer;
  const over = tooMany(source, laid.records, laid.records, laid.points, limits);
  if (over) throw over;
  layer.report(source, notes);

  if (laid.records === 0) throw nothingLaid(n, layer.skipped, source);
  const { lattice } = await place(laid, true, source, [], pace);
  const built = await buildRings(laid, lattice.stepsPerDegree, lattice.originX, lattice.originY, pace);
  const { xy, ringStart, shapeStart, tangled } = built;
  const shapes: Shapes = tangled.size > 0 ? { xy, ringStart, shapeStart, tangled } : { xy, ringStart, shapeStart };
  const pick = built.keep.map((k) => rowOf[k]);
  const out = at.columns.map((c) => pickRows(c, pick));
  if (columns.sections.kind === 'states') {
    const names = new Set(out.map((c) => c.name.toLowerCase()));
    const name = ['section', 'section_laid', 'section_drawn'].find((n) => !names.has(n)) ?? 'section_';
    out.push({ name, kind: 'number', values: Float64Array.from(built.keep, (k) => sectionOf[k] + 1) });
  }
  const numberOf = (point: number): number => used[at.order[point]] + 1;
  const skipped = mergeSkipped(staging.summary(), layer.skipped, numberOf, laid, rowOf);
  return {
    source,
    format: raw.format,
    system: raw.system,
    lattice,
    shapes,
    recordNumber: pick.map((p) => numberOf(p)),
    columns: out,
    total: built.keep.length + skipped.reduce((s, a) => s + a.count, 0),
    skipped,
    // Strips that were laid are no strangers to each other.
    misfits: [],
    invalidRings: findInvalid(
      shapes,
      lattice,
      { suspects: built.suspects, keep: pick.map((p) => numberOf(p) - 1) },
      source,
      notes,
    ),
    notes,
  };
}

function rowsUsed(staging: Staging): number[] {
  const out: number[] = [];
  for (let r = 0; r < staging.records; r++) if (staging.status[r] === 0) out.push(r);
  return out;
}

interface Points {
  /** Place of each point in the file's used points. */
  order: Uint32Array;
  lon: Float64Array;
  lat: Float64Array;
  columns: Column[];
}

/** Points in the order in which they were logged: that of the file, unless a column of times or numbers makes the way far shorter. */
function orderOf(staging: Staging, used: Uint32Array, columns: Column[], source: string, notes: Note[]): Points {
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
      sentence: `The points are not in the order in which they were logged; they were put in that of the column "${shown(best.name)}".`,
      place: { file: source, key: best.name },
      todo: 'Nothing, unless the passes look wrong on the map.',
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

function isShuffled({ x, y }: { x: Float64Array; y: Float64Array }, columns: PointColumns): boolean {
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

function shuffled(file: string): UserError {
  return new UserError(
    'points-order',
    'The points are not in the order in which they were logged, and no column gives it, so nothing shows which ground lies between them.',
    { file },
    'Export them with their time, or from the display in the order of the log; a spatial index (FlatGeobuf) puts them in another one.',
  );
}

function trackOf(lon: Float64Array, lat: Float64Array): { x: Float64Array; y: Float64Array } {
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

function pickRows(c: Column, rows: Uint32Array): Column {
  return c.kind === 'number'
    ? { ...c, values: Float64Array.from(rows, (r) => c.values[r]) }
    : { ...c, codes: Uint32Array.from(rows, (r) => c.codes[r]) };
}

/** Points that follow one another: all of them, or those of one section. */
function chainsOf({ sections }: PointColumns, n: number): number[][] {
  if (sections.kind === 'none' || sections.kind === 'states') return [Array.from({ length: n }, (_, i) => i)];
  const out: number[][] = sections.labels.map(() => []);
  for (let i = 0; i < n; i++) out[sections.of[i]]?.push(i);
  return out;
}

/** Lays the strips of chains of points, one after another. */
class Layer {
  readonly laid = new Staging();
  /** Point and section of each record laid. */
  readonly rowOf: number[] = [];
  readonly sectionOf: number[] = [];
  /** Points that laid nothing: how many for each reason, and the first of them. */
  readonly skipped = new Map<string, { count: number; first: number }>();
  private readonly breakM: number;
  private readonly before: boolean;
  private readonly whyInterval: string;
  private readonly unit: Float64Array;
  private readonly whyHeading: string;

  constructor(
    private readonly points: Points,
    private readonly track: { x: Float64Array; y: Float64Array },
    private readonly columns: PointColumns,
  ) {
    const chains = chainsOf(columns, track.x.length);
    const longest = chains.reduce((a, c) => (c.length > a.length ? c : a));
    const steps = stepsOf({ x: longestOf(track.x, longest), y: longestOf(track.y, longest) });
    const moved = steps.filter((s) => s > STILL_M).sort();
    const atSpeed = moved[Math.floor(AT_SPEED * moved.length)] ?? 5;
    // In a short log a break itself may be among the longest tenth.
    this.breakM = BREAK_STEPS * Math.min(atSpeed, 3 * (median(moved) || 5));
    const interval = intervalOf(columns, steps, longest);
    this.before = interval.before;
    this.whyInterval = interval.says;
    const turned = unitsOf(track, columns, chains, this.breakM);
    this.unit = turned.unit;
    this.whyHeading = turned.says;
  }

  lay(chain: number[]): void {
    const { before, track } = this;
    let last = -1;
    for (const i of chain) {
      const stepM = last < 0 ? Number.NaN : Math.hypot(track.x[i] - track.x[last], track.y[i] - track.y[last]);
      if (stepM < STILL_M) {
        this.leave(i, 'no ground was driven over since the point before');
        continue;
      }
      const joined = last >= 0 && this.joined(last, i, stepM);
      if (joined) this.strip(last, i, before ? i : last);
      if (before && !joined) this.alone(i, -1);
      if (!before && !joined && last >= 0) this.alone(last, 1);
      last = i;
    }
    if (!before && last >= 0) this.alone(last, 1);
  }

  private joined(a: number, b: number, stepM: number): boolean {
    const { columns, unit } = this;
    const { pass, distance } = columns;
    if (stepM > this.breakM) return false;
    if (pass !== null && pass.values[a] !== pass.values[b]) return false;
    if (unit[2 * a] * unit[2 * b] + unit[2 * a + 1] * unit[2 * b + 1] < SHARP) return false;
    const driven = distance === null ? Number.NaN : distance.meters[this.before ? b : a];
    return !(stepM > 1.5 * driven + 0.5);
  }

  /** A point at the end of a pass, the strip of which goes on for the distance that the point gives; `way` 1 ahead, -1 back. */
  private alone(i: number, way: 1 | -1): void {
    const { columns, points, unit } = this;
    const meters = columns.distance?.meters[i] ?? Number.NaN;
    if (!(meters > STILL_M && meters <= this.breakM)) {
      this.leave(
        i,
        way < 0 ? 'first point of a pass, with no strip before it' : 'last point of a pass, with no strip after it',
      );
      return;
    }
    const [mx, my] = metersPerDegree(points.lat[i]);
    const end = {
      lon: points.lon[i] + (way * meters * unit[2 * i]) / mx,
      lat: points.lat[i] + (way * meters * unit[2 * i + 1]) / my,
    };
    const here = { lon: points.lon[i], lat: points.lat[i] };
    this.quads(way < 0 ? end : here, i, way < 0 ? here : end, i, i);
  }

  private strip(a: number, b: number, of: number): void {
    const { lon, lat } = this.points;
    this.quads({ lon: lon[a], lat: lat[a] }, a, { lon: lon[b], lat: lat[b] }, b, of);
  }

  /** The strips of the sections that point `of` has on, from `back` to `front`, across the headings at points `a` and `b`. */
  private quads(back: Place, a: number, front: Place, b: number, of: number): void {
    const { sections, width } = this.columns;
    const meters = width.meters[of];
    if (sections.kind === 'none' || sections.kind === 'own') {
      if (!(meters > 0)) this.leave(of, 'no width: nothing was on');
      else this.quad(back, a, front, b, -meters / 2, meters / 2, of, 0);
      return;
    }
    const { edgesM } = sections;
    let any = false;
    for (let k = 0; k + 1 < edgesM.length; k++) {
      if (sections.kind === 'states' ? !sections.on(of, k) : sections.of[of] !== k || !(meters > 0)) continue;
      this.quad(back, a, front, b, edgesM[k], edgesM[k + 1], of, k);
      any = true;
    }
    if (!any) this.leave(of, 'no section was on');
  }

  private quad(
    back: Place,
    a: number,
    front: Place,
    b: number,
    left: number,
    right: number,
    of: number,
    k: number,
  ): void {
    const { laid } = this;
    this.corner(back, a, left);
    this.corner(back, a, right);
    this.corner(front, b, right);
    this.corner(front, b, left);
    laid.ring(OUTER);
    laid.record();
    this.rowOf.push(of);
    this.sectionOf.push(k);
  }

  private corner(at: Place, i: number, right: number): void {
    const [mx, my] = metersPerDegree(at.lat);
    this.laid.point(at.lon + (right * this.unit[2 * i + 1]) / mx, at.lat - (right * this.unit[2 * i]) / my);
  }

  private leave(i: number, reason: string): void {
    const e = this.skipped.get(reason);
    if (e === undefined) this.skipped.set(reason, { count: 1, first: i });
    else {
      e.count++;
      e.first = Math.min(e.first, i);
    }
  }

  /** Where points are those of single sections: the points without a section. */
  leaveUnnumbered(): void {
    const { sections } = this.columns;
    if (sections.kind === 'none' || sections.kind === 'states') return;
    for (let i = 0; i < sections.of.length; i++) if (sections.of[i] < 0) this.leave(i, 'no section is named');
  }

  report(file: string, notes: Note[]): void {
    const { width, sections, pass } = this.columns;
    const n = this.track.x.length;
    notes.push(
      {
        code: 'points-laid',
        sentence: `The map holds ${n} points, along which ${this.laid.records} polygons were laid as a display draws them: as wide as column "${shown(width.name)}" says (${width.unit}), ${this.whyHeading}${pass ? `, broken where column "${shown(pass.name)}" changes` : ''}; a step of more than ${this.breakM.toFixed(1)} m is a break.`,
        place: { file, key: width.name },
        todo: 'The positions are taken as the middle of the frame: make sure that they are not those of the antenna.',
      },
      {
        code: 'points-interval',
        sentence: this.whyInterval,
        place: { file },
        todo: 'Nothing; ends of passes are known to one interval at best.',
      },
      {
        code: 'points-sections',
        sentence:
          sections.kind === 'none'
            ? 'No column tells which sections were on, so each strip is one polygon with the position in its middle.'
            : `Sections were laid from ${sections.says}, counted from the left.`,
        place: { file },
        todo: 'Name another column with "--columns section=NAME" if that is wrong.',
      },
    );
  }
}

interface Place {
  lon: number;
  lat: number;
}

const longestOf = (v: Float64Array, chain: number[]): Float64Array => Float64Array.from(chain, (i) => v[i]);

/** Whether the values of a point hold for the strip before it, by the distances that the points give. */
function intervalOf(
  { distance }: PointColumns,
  steps: Float64Array,
  chain: number[],
): { before: boolean; says: string } {
  const taken = (how: string, why: string): string =>
    `What a point holds was taken for the ground from ${how}, ${why}.`;
  const BEFORE = 'the point before to itself';
  if (distance === null)
    return {
      before: true,
      says: taken(BEFORE, 'as displays log (common practice); no column of the distance driven shows which it is'),
    };
  const before: number[] = [];
  const after: number[] = [];
  for (let k = 1; k < steps.length; k++) {
    const d = distance.meters[chain[k]];
    if (!(d > 0)) continue;
    before.push(Math.abs(d - steps[k - 1]));
    after.push(Math.abs(d - steps[k]));
  }
  const [b, a] = [median(before), median(after)];
  const name = `column "${shown(distance.name)}" (${distance.unit})`;
  const cm = (m: number): string => `${(100 * m).toFixed(1)} cm`;
  if (Math.min(a, b) < 0.67 * Math.max(a, b)) {
    return b < a
      ? {
          before: true,
          says: taken(BEFORE, `for ${name} fits that step within ${cm(b)} and the next within ${cm(a)} (medians)`),
        }
      : {
          before: false,
          says: taken(
            'itself to the next',
            `for ${name} fits that step within ${cm(a)} and the one before within ${cm(b)} (medians)`,
          ),
        };
  }
  return { before: true, says: taken(BEFORE, `as displays log (common practice); ${name} fits both steps alike`) };
}

/** Unit vectors of travel, x and y in turn: from the heading column where it follows the track, else from the points before and after. */
function unitsOf(
  { x, y }: { x: Float64Array; y: Float64Array },
  { heading, pass }: PointColumns,
  chains: number[][],
  breakM: number,
): { unit: Float64Array; says: string } {
  const unit = new Float64Array(2 * x.length);
  for (const chain of chains) {
    for (let k = 0; k < chain.length; k++) {
      const i = chain[k];
      const near = (j: number | undefined): j is number =>
        j !== undefined &&
        Math.hypot(x[j] - x[i], y[j] - y[i]) <= breakM &&
        (pass === null || pass.values[j] === pass.values[i]);
      let [from, to] = [k, k];
      while (from > 0 && near(chain[from - 1]) && distanceOf(x, y, chain[from], i) < STILL_M) from--;
      while (to + 1 < chain.length && near(chain[to + 1]) && distanceOf(x, y, chain[to], i) < STILL_M) to++;
      const [dx, dy] = [x[chain[to]] - x[chain[from]], y[chain[to]] - y[chain[from]]];
      const length = Math.hypot(dx, dy) || 1;
      unit[2 * i] = dx / length;
      unit[2 * i + 1] = dy / length;
    }
  }
  if (heading === null) return { unit, says: 'across the line from the point before to the one after' };
  let fit = 0;
  let seen = 0;
  const own = new Float64Array(2 * x.length);
  for (let i = 0; i < x.length; i++) {
    const a = (heading.values[i] * Math.PI) / 180;
    own[2 * i] = Math.sin(a);
    own[2 * i + 1] = Math.cos(a);
    if (unit[2 * i] === 0 && unit[2 * i + 1] === 0) continue;
    seen++;
    if (own[2 * i] * unit[2 * i] + own[2 * i + 1] * unit[2 * i + 1] > 0.95) fit++;
  }
  const name = `column "${shown(heading.name)}"`;
  if (fit < 0.8 * seen)
    return { unit, says: `across the line from the point before to the one after (${name} does not follow the track)` };
  for (let i = 0; i < x.length; i++)
    if (!Number.isNaN(own[2 * i])) {
      unit[2 * i] = own[2 * i];
      unit[2 * i + 1] = own[2 * i + 1];
    }
  return { unit, says: `across the heading of ${name}` };
}

const distanceOf = (x: Float64Array, y: Float64Array, a: number, b: number): number =>
  Math.hypot(x[a] - x[b], y[a] - y[b]);

function nothingLaid(points: number, left: ReadonlyMap<string, { count: number }>, file: string): UserError {
  const reasons = [...left].map(([reason, { count }]) => `${reason} (${count})`).join(', ');
  return new UserError(
    'no-records',
    `The map holds ${points} point${points === 1 ? '' : 's'}, along which no polygon can be laid: ${reasons}.`,
    { file },
    'Check the columns of width and sections ("--columns width=NAME"), or export the map as polygons.',
  );
}

function mergeSkipped(
  points: Skipped[],
  left: ReadonlyMap<string, { count: number; first: number }>,
  numberOf: (point: number) => number,
  laid: Staging,
  rowOf: readonly number[],
): Skipped[] {
  const out = [...points];
  for (const [reason, { count, first }] of left) out.push({ reason, count, firstRecord: numberOf(first) });
  for (const s of laid.summary()) out.push({ ...s, firstRecord: numberOf(rowOf[s.firstRecord - 1]) });
  return out.sort((a, b) => a.firstRecord - b.firstRecord);
}
