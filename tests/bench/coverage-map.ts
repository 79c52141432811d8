import type { Shapes } from '../../src/core/geometry/shapes.ts';

/**
 * An invented field for the benchmark, seeded: two headland laps of four straight runs, straight passes that run 0 to 2.5 m into the headland,
 * and a curved block that meets the straight one section by section. 16 sections of 0.762 m, a record every 2.2 m (5 mph at 1 Hz), 2 cm
 * wander and 1.5 cm pass bias, 41.9 degrees north, coordinates rounded to 1e-7 degree.
 */
export interface BenchMap {
  shapes: Shapes;
  count: number;
  /** First record of each pass; one more than passes. */
  passStart: Uint32Array;
  /** Of each record: the log instant, counted from the first, the section, from 0, and the way it was driven, degrees from north. */
  instant: Uint32Array;
  section: Uint8Array;
  headingDeg: Uint16Array;
  /** m² per square lattice step at the middle. */
  cellM2: number;
  sideM: number;
}

const SECTIONS = 16;
const SECTION_M = 0.762;
const WIDTH = SECTIONS * SECTION_M;
/** Log intervals that a turn takes. */
const TURN = 25;
const EAST = 1e7 / (111_320 * Math.cos((41.9 * Math.PI) / 180));
const NORTH = 1e7 / 111_080;

function random(seed: number): () => number {
  let a = seed >>> 0;
  return () => {
    a = (a + 0x6d2b79f5) >>> 0;
    let t = a;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

/** About `records` records; `rectangles` gives each record its own rectangle instead of corners shared along the pass. */
export function benchMap(records: number, rectangles: boolean, seed = 1, stepM = 2.2): BenchMap {
  const side = Math.sqrt(records * SECTION_M * stepM);
  const next = random(seed);
  const normal = (): number => Math.sqrt(-2 * Math.log(next() || 1e-12)) * Math.cos(2 * Math.PI * next());
  const xy: number[] = [];
  const passStart = [0];
  const instant: number[] = [];
  const section: number[] = [];
  const headingDeg: number[] = [];
  let now = 0;
  const put = (x: number, y: number): void => {
    xy.push(Math.round(x * EAST), Math.round(y * NORTH));
  };

  /** One pass along a line of points; `keep` switches sections by their middle. */
  const drive = (line: [number, number][], keep: (x: number, y: number) => boolean): void => {
    const bias = 0.015 * normal();
    let wander = 0.02 * normal();
    const n = line.length;
    const at: { x: number; y: number; nx: number; ny: number }[] = [];
    for (let i = 0; i < n; i++) {
      const a = line[Math.max(0, i - 1)];
      const b = line[Math.min(n - 1, i + 1)];
      const l = Math.hypot(b[0] - a[0], b[1] - a[1]);
      const nx = (b[1] - a[1]) / l;
      const ny = -(b[0] - a[0]) / l;
      wander = 0.9 * wander + 0.02 * Math.sqrt(1 - 0.81) * normal();
      at.push({ x: line[i][0] + nx * (bias + wander), y: line[i][1] + ny * (bias + wander), nx, ny });
    }
    for (let i = 0; i + 1 < n; i++, now++) {
      const p = at[i];
      const q = at[i + 1];
      const l = Math.hypot(q.x - p.x, q.y - p.y);
      const rx = (q.y - p.y) / l;
      const ry = -(q.x - p.x) / l;
      const heading = (Math.round((Math.atan2(q.x - p.x, q.y - p.y) * 180) / Math.PI) + 360) % 360;
      for (let s = 0; s < SECTIONS; s++) {
        const a = (s - SECTIONS / 2) * SECTION_M;
        const b = a + SECTION_M;
        const mid = a + SECTION_M / 2;
        if (!keep((p.x + q.x) / 2 + rx * mid, (p.y + q.y) / 2 + ry * mid)) continue;
        instant.push(now);
        section.push(s);
        headingDeg.push(heading);
        if (rectangles) {
          put(p.x + rx * a, p.y + ry * a);
          put(p.x + rx * b, p.y + ry * b);
          put(q.x + rx * b, q.y + ry * b);
          put(q.x + rx * a, q.y + ry * a);
        } else {
          put(p.x + p.nx * a, p.y + p.ny * a);
          put(p.x + p.nx * b, p.y + p.ny * b);
          put(q.x + q.nx * b, q.y + q.ny * b);
          put(q.x + q.nx * a, q.y + q.ny * a);
        }
      }
    }
    passStart.push(xy.length / 8);
    now += TURN;
  };
  const straight = (x0: number, y0: number, x1: number, y1: number): [number, number][] => {
    const l = Math.hypot(x1 - x0, y1 - y0);
    const n = Math.max(1, Math.round(l / stepM));
    return Array.from({ length: n + 1 }, (_, i) => [x0 + ((x1 - x0) * i) / n, y0 + ((y1 - y0) * i) / n]);
  };
  const always = (): boolean => true;

  for (let lap = 0; lap < 2; lap++) {
    const d = WIDTH * (lap + 0.5);
    drive(straight(0, d, side, d), always);
    drive(straight(side - d, 0, side - d, side), always);
    drive(straight(side, side - d, 0, side - d), always);
    drive(straight(d, side, d, 0), always);
  }
  const low = 2 * WIDTH;
  const high = side - low;
  const border = low + Math.round((0.6 * (high - low)) / WIDTH) * WIDTH;
  let up = true;
  for (let x = low + WIDTH / 2; x < border; x += WIDTH) {
    const a = low - 2.5 * next();
    const b = high + 2.5 * next();
    drive(up ? straight(x, a, x, b) : straight(x, b, x, a), always);
    up = !up;
  }
  const bend = 0.02 * side;
  // The last of them still reaches the headland where the bend takes it furthest away.
  for (let x = border - bend + WIDTH / 2; x - WIDTH / 2 < high + bend; x += WIDTH) {
    const a = low - 2.5 * next();
    const b = high + 2.5 * next();
    const line = straight(0, a, 0, b).map(([, y]): [number, number] => [
      x + bend * Math.sin((2 * Math.PI * (y - low)) / (high - low || 1)),
      y,
    ]);
    drive(up ? line : line.reverse(), (u) => u > border && u < high + 1);
    up = !up;
  }

  const count = xy.length / 8;
  return {
    shapes: {
      xy: Int32Array.from(xy),
      ringStart: Uint32Array.from({ length: count + 1 }, (_, i) => 4 * i),
      shapeStart: Uint32Array.from({ length: count + 1 }, (_, i) => i),
    },
    count,
    passStart: Uint32Array.from(passStart),
    instant: Uint32Array.from(instant),
    section: Uint8Array.from(section),
    headingDeg: Uint16Array.from(headingDeg),
    cellM2: 1 / (EAST * NORTH),
    sideM: side,
  };
}
