/** The order and the lines in which a field is driven. */
import {
  type Convex,
  chord,
  type Driving,
  type Field,
  type Headlands,
  inset,
  inside,
  type Line,
  lapAround,
  lineThrough,
  type Point,
} from './field.ts';
import type { Random } from './random.ts';

export interface Plan {
  driving: Driving;
  headlands: Headlands;
  laps: number;
  /** Distance from pass to pass that the guidance steers at, by the number of the pass across the field: it may be changed midway. Laps before them are -1. */
  stepM: (pass: number) => number;
  /** Width that must fit on the ground, for laps and for where the frame is lowered. */
  widthM: number;
  /** Section control decides where planting begins: the frame is lowered before and lifted after. */
  control: boolean;
  /** Passes keep turning for a while with the frame still down. */
  lateLift: boolean;
}

const clamp = (v: number, low: number, high: number): number => Math.min(high, Math.max(low, v));

/** The ends of a pass: where its band first and last touches the ground that it is to plant. */
function reach(polygon: Convex, y: number, widthM: number): [number, number] | null {
  const ys = polygon.map((p) => p[1]);
  const [low, high] = [Math.min(...ys), Math.max(...ys)];
  const at = [-0.499, -0.25, 0, 0.25, 0.499].map((f) => chord(polygon, clamp(y + f * widthM, low + 1e-6, high - 1e-6)));
  const there = at.filter((c) => c !== null);
  if (there.length === 0) return null;
  return [Math.min(...there.map((c) => c[0])), Math.max(...there.map((c) => c[1]))];
}

/** Each side of a lap is driven separately to the edge of the field; the frame is lifted to turn. */
function squareLap(random: Random, field: Field, way: Convex, clockwise: boolean, control: boolean): Line[] {
  const n = way.length;
  const sides = way.map((a, i): [Point, Point] => [a, way[(i + 1) % n]]);
  const from = random.int(0, n - 1);
  return sides.map((_, i) => {
    const k = (from + (clockwise ? n - i : i)) % n;
    const [a, b] = clockwise ? [sides[k][1], sides[k][0]] : sides[k];
    const l = Math.hypot(b[0] - a[0], b[1] - a[1]);
    const [dx, dy] = [(b[0] - a[0]) / l, (b[1] - a[1]) / l];
    // On to where the line leaves the field, at both ends.
    const reachOut = (x: number, y: number, sx: number, sy: number): number => {
      let d = 0;
      while (d < 60 && inside(field.edge, x + sx * d, y + sy * d)) d += 0.25;
      return d;
    };
    const before = reachOut(a[0], a[1], -dx, -dy) + (control ? 4 : 0);
    const after = reachOut(b[0], b[1], dx, dy) + (control ? 4 : 0);
    const lead = 12;
    const line = lineThrough(
      [
        [a[0] - dx * (before + lead), a[1] - dy * (before + lead)],
        [b[0] + dx * (after + lead), b[1] + dy * (after + lead)],
      ],
      'lap',
    );
    return { ...line, downM: lead, upM: line.s[1] - lead };
  });
}

function lapLines(random: Random, field: Field, plan: Plan, number: number, count: number, inward: boolean): Line[] {
  const lines: Line[] = [];
  const clockwise = random.chance(0.5);
  // Square corners overlap: without section control or with many laps they are rounded, each lap inside the bend of the one outside it.
  const square = plan.control && (count > 2 || random.chance(0.5));
  const least = Math.max(7, plan.widthM / 2 + 1.5);
  for (let k = 0; k < count; k++) {
    const lap = inward ? k : count - 1 - k;
    const step = plan.stepM(number);
    const way = inset(field.edge, step * (lap + 0.5));
    const radius = square ? step : least + (count - 1 - lap) * step;
    const ys = way.map((p) => p[1]);
    if (Math.max(...ys) - Math.min(...ys) < (square ? step * 0.6 : 2 * radius + 2)) break;
    if (square) lines.push(...squareLap(random, field, way, clockwise, plan.control));
    else lines.push(lapAround(way, radius, clockwise, plan.control ? random.between(3, 8) : random.between(0.3, 3)));
  }
  return lines;
}

function contour(random: Random, field: Field): (x: number, offset: number) => Point {
  const wave = random.between(120, 220);
  // Lines parallel to a bend grow sharper on its inner side: no pass may turn about a point inside the field.
  const bendM = 1.4 * (field.widthM / 2 + 30);
  const height = Math.min(random.between(2, 7), (wave / (2 * Math.PI)) ** 2 / bendM);
  const phase = random.between(0, 2 * Math.PI);
  const middle = field.lengthM / 2;
  return (x, y) => {
    const offset = y - field.widthM / 2;
    const a = (2 * Math.PI * (x - middle)) / wave + phase;
    const slope = (height * 2 * Math.PI * Math.cos(a)) / wave;
    const l = Math.hypot(1, slope);
    return [x - (slope / l) * offset, height * Math.sin(a) + offset / l];
  };
}

/** Turns on with the frame still down: a quarter of a turn at most, beyond the end of the pass. */
function turning(random: Random, points: Point[]): Point[] {
  const [ax, ay] = points[points.length - 2];
  const [bx, by] = points[points.length - 1];
  const side = random.chance(0.5) ? 1 : -1;
  const radius = random.between(9, 14);
  const length = random.between(2, 7);
  const h0 = Math.atan2(by - ay, bx - ax);
  const out: Point[] = [];
  for (let s = 0.5; s <= length; s += 0.5) {
    const h = h0 + (side * s) / radius;
    out.push([bx + side * radius * (Math.sin(h) - Math.sin(h0)), by - side * radius * (Math.cos(h) - Math.cos(h0))]);
  }
  return out;
}

/** Numbers of the passes across the field in the order in which they are driven. */
function orderOf(random: Random, driving: Driving, count: number): number[] {
  const rising = Array.from({ length: count }, (_, i) => i);
  if (driving !== 'every other pass first') return rising;
  const even = rising.filter((i) => i % 2 === 0);
  const odd = rising.filter((i) => i % 2 === 1);
  return [...even, ...(random.chance(0.5) ? odd.reverse() : odd)];
}

function passLines(random: Random, field: Field, plan: Plan): Line[] {
  const { driving, widthM, control } = plan;
  const ys = field.inner.map((p) => p[1]);
  const [low, high] = [Math.min(...ys), Math.max(...ys)];
  const bend = driving === 'contours' ? contour(random, field) : null;
  // The line of the pass that covers each place across; steps may differ from pass to pass, so places are found in driving order.
  const places: number[] = [];
  for (let y = low + plan.stepM(0) / 2, k = 0; y - widthM / 2 < high - 0.05; k++) {
    places.push(y);
    y += (plan.stepM(k) + plan.stepM(k + 1)) / 2;
  }
  const lines: Line[] = [];
  let forward = random.chance(0.5);
  for (const k of orderOf(random, driving, places.length)) {
    const y = places[k];
    const ends = reach(field.inner, y, widthM);
    if (ends === null || ends[1] - ends[0] < 4) continue;
    const ahead = control ? random.between(2, 5) : 0;
    const [a, b] = [ends[0] - ahead, ends[1] + ahead];
    const lead = 12;
    let points: Point[] = [];
    for (let x = a - lead; x < b + lead; x += bend ? 3 : b - a + 2 * lead) points.push(bend ? bend(x, y) : [x, y]);
    points.push(bend ? bend(b + lead, y) : [b + lead, y]);
    if (!forward) points = points.reverse();
    let line = lineThrough(points, 'pass');
    const total = line.s[line.s.length - 1];
    const sloppy = (): number => (control ? 0 : random.normal() * 0.35 + 0.15);
    line.downM = lead - sloppy();
    line.upM = total - lead + sloppy();
    if (plan.lateLift && !bend) {
      const cut = [points[0], forward ? ([b, y] as Point) : ([a, y] as Point)];
      const down = line.downM;
      line = lineThrough([...cut, ...turning(random, cut)], 'pass');
      line.downM = down;
      line.upM = line.s[line.s.length - 1] - 0.3;
    }
    lines.push(line);
    if (driving !== 'one way') forward = !forward;
  }
  return lines;
}

export function plan(random: Random, field: Field, how: Plan): Line[] {
  if (how.driving === 'round and round') return lapLines(random, field, how, -1, 12, true);
  const passes = passLines(random, field, how);
  if (how.headlands === 'first') return [...lapLines(random, field, how, -1, how.laps, true), ...passes];
  return how.headlands === 'last'
    ? [...passes, ...lapLines(random, field, how, passes.length, how.laps, random.chance(0.5))]
    : passes;
}
