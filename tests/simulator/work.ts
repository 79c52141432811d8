/**
 * A planter at work: where it is every tenth of a second, which sections are on, and what its display writes down.
 *
 * 1. `motion`: a line is driven with the error of steering (one bias for the pass and a slow wander), slower at the ends, with stops.
 * 2. `switching`: section control looks ahead, commands each section by the ground before it; wiring, delay and stuck sections make of the commands what is recorded.
 * 3. `logging`: instants by time or distance; a state is cut at its instant, or taken from the beginning or the end of the interval.
 */

import type { Display } from './display.ts';
import { type Convex, inside, type Line } from './field.ts';
import type { Ground } from './ground.ts';
import type { Random } from './random.ts';

export interface Logger {
  by: 'time' | 'distance';
  /** Seconds or meters. */
  every: number;
  state: 'cut' | 'cut section' | 'beginning' | 'end';
}

export interface Steering {
  /** Standard deviation of the bias that a pass has all along, and of the wander along it, meters. */
  biasM: number;
  wanderM: number;
  cruiseMs: number;
  /** Each pass has its own speed, by up to this factor either way. */
  speedSpread: number;
  endMs: number;
  /** Stops in mid-pass, one in so many passes; some begin again a little before. */
  stops: number;
  restarts: boolean;
}

export interface Step {
  t: number;
  x: number;
  y: number;
  /** Counterclockwise from x, radians. */
  h: number;
  v: number;
  /** Distance along the line. */
  s: number;
}

export interface Motion {
  steps: Step[];
  line: Line;
}

/** One log interval of one section, from one line across travel to the next. */
export interface Log {
  pass: number;
  section: number;
  from: Step;
  to: Step;
  /** Instants shared by the sections of a bar bear one number. */
  bar: number;
  display: Display;
}

const DT = 0.1;

function at(line: Line, s: number, hint: number): { x: number; y: number; h: number; i: number } {
  let i = hint;
  const last = line.s.length - 2;
  while (i < last && line.s[i + 1] <= s) i++;
  while (i > 0 && line.s[i] > s) i--;
  const d = line.s[i + 1] - line.s[i];
  const f = (s - line.s[i]) / d;
  const heading = (k: number): number => Math.atan2(line.y[k + 1] - line.y[k], line.x[k + 1] - line.x[k]);
  // Headings go over from one piece to the next between their middles, so that shared corners are shared in bends.
  const h = heading(i);
  const k = f < 0.5 ? Math.max(0, i - 1) : Math.min(last, i + 1);
  const turn = Math.atan2(Math.sin(heading(k) - h), Math.cos(heading(k) - h));
  const near = Math.abs(turn) < 0.5 ? turn * Math.abs(f - 0.5) : 0;
  return {
    x: line.x[i] + (line.x[i + 1] - line.x[i]) * f,
    y: line.y[i] + (line.y[i + 1] - line.y[i]) * f,
    h: h + near,
    i,
  };
}

export function motion(random: Random, line: Line, steering: Steering, startS: number): Motion {
  const factor = Math.exp(random.between(-1, 1) * Math.log(steering.speedSpread));
  const cruise = steering.cruiseMs * factor;
  const end = Math.min(cruise, steering.endMs * factor);
  const total = line.s[line.s.length - 1];
  const bias = random.normal() * steering.biasM;
  let wander = random.normal() * steering.wanderM;
  const stopAt = random.chance(steering.stops) ? random.between(0.25, 0.75) * total : Number.POSITIVE_INFINITY;
  const back = steering.restarts && random.chance(0.5) ? random.between(3, 8) : 0;
  const steps: Step[] = [];
  let t = startS;
  let s = 0;
  let v = end;
  let hint = 0;
  let stopped = false;
  const put = (): void => {
    const p = at(line, s, hint);
    hint = p.i;
    const e = bias + wander;
    steps.push({ t, x: p.x + Math.sin(p.h) * e, y: p.y - Math.cos(p.h) * e, h: p.h, v, s });
  };
  while (s < total) {
    put();
    const near = Math.min(s - line.downM, line.upM - s);
    // Full speed 12 m inside the ends, at up to half a meter per second squared.
    const wanted = near < 2 ? end : Math.min(cruise, end + ((cruise - end) * (near - 2)) / 10);
    v += Math.max(-0.9 * DT, Math.min(0.5 * DT, wanted - v));
    if (!stopped && s > stopAt - 1.5) v = Math.max(0.25, v - 1.2 * DT);
    if (!stopped && s >= stopAt) {
      stopped = true;
      const wait = random.between(4, 40);
      for (let w = 0; w < wait; w += 1) steps.push({ ...steps[steps.length - 1], t: t + w, v: 0 });
      t += wait;
      v = 0.3;
      s -= back;
      t += back * 2;
    }
    const length = v * DT;
    wander = wander * (1 - length / 20) + random.normal() * steering.wanderM * Math.sqrt((2 * length) / 20);
    s += length;
    t += DT;
  }
  put();
  return { steps, line };
}

export interface Surroundings {
  ground: Ground;
  /** Ground to plant; null where nothing bounds it. */
  region: Convex | null;
  waterway: Convex | null;
  /** How far the machine had come when this line began. */
  travelledM: number;
}

/** Which sections are on at each step, as recorded, and how much of that lay on covered ground. Marks the ground. */
export function switching(
  random: Random,
  { steps, line }: Motion,
  displayAt: (share: number) => Display,
  around: Surroundings,
): { on: Uint8Array[]; display: Display[]; doubledM2: number; offM2: number } {
  const total = line.s[line.s.length - 1];
  const display = steps.map((p) => displayAt(p.s / total));
  const n = steps.length;
  const most = Math.max(...display.map((d) => d.bands.length));
  const commands = steps.map(() => new Uint8Array(most));
  const on = steps.map(() => new Uint8Array(most));
  let travelled = around.travelledM;
  const free = (x: number, y: number): boolean =>
    (around.region === null || inside(around.region, x, y)) &&
    !(around.waterway && inside(around.waterway, x, y)) &&
    !around.ground.covered(x, y, travelled);
  const lag = Math.round(display[0].delayS / DT);
  const slip = random.between(-0.02, 0.02);
  let doubledM2 = 0;
  let offM2 = 0;
  for (let i = 0; i < n; i++) {
    const p = steps[i];
    const d = display[i];
    const back = i === 0 ? p : steps[i - 1];
    const length = Math.hypot(p.x - back.x, p.y - back.y);
    travelled += length;
    const down = p.s >= line.downM && p.s <= line.upM;
    const ahead = p.v * d.lookAheadS + slip;
    const ax = p.x + Math.cos(p.h) * ahead;
    const ay = p.y + Math.sin(p.h) * ahead;
    const [rx, ry] = [Math.sin(p.h), -Math.cos(p.h)];
    d.bands.forEach((b, k) => {
      if (!down) commands[i][k] = 0;
      else if (!d.control) commands[i][k] = around.waterway && inside(around.waterway, ax, ay) ? 0 : 1;
      else if (b !== null) {
        // A few centimeters of a neighbor's overlap switch nothing off.
        const spare = Math.min(0.15, (b.right - b.left) / 3);
        let open = 0;
        for (let q = 0; q < 7; q++) {
          const c = b.left + spare + ((b.right - b.left - 2 * spare) * (q + 0.5)) / 7;
          if (free(ax + rx * c, ay + ry * c)) open++;
        }
        commands[i][k] = open / 7 >= d.onFrom ? 1 : 0;
      }
    });
    // The tenths of a second between command and change, at both ends alike.
    const told = commands[Math.max(0, i - lag)];
    d.bands.forEach((b, k) => {
      if (b === null) return;
      let state = told[d.wiring[k]];
      if (d.stuckOn.includes(k)) state = down ? 1 : 0;
      if (d.stuckOff.includes(k)) {
        if (state === 1) offM2 += length * (b.right - b.left);
        state = 0;
      }
      on[i][k] = state;
      if (state === 0 || i === 0) return;
      const c = (b.left + b.right) / 2;
      const step = length * (b.right - b.left);
      if (around.ground.covered(p.x + rx * c, p.y + ry * c, travelled)) doubledM2 += step;
      const [sx, sy] = [Math.sin(back.h), -Math.cos(back.h)];
      around.ground.mark(
        travelled,
        back.x + sx * b.left,
        back.y + sy * b.left,
        back.x + sx * b.right,
        back.y + sy * b.right,
        p.x + rx * b.left,
        p.y + ry * b.left,
        p.x + rx * b.right,
        p.y + ry * b.right,
      );
    });
  }
  return { on, display, doubledM2, offM2 };
}

/** Indices of the steps at which the display closes records. */
function instants(
  random: Random,
  steps: readonly Step[],
  logger: Logger,
  { on, display }: { on: readonly Uint8Array[]; display: readonly Display[] },
): number[] {
  const out = [0];
  const phase = random.next() * logger.every;
  let next = logger.by === 'time' ? Math.ceil((steps[0].t - phase) / logger.every) * logger.every + phase : phase;
  let travelled = 0;
  for (let i = 1; i < steps.length; i++) {
    travelled += Math.hypot(steps[i].x - steps[i - 1].x, steps[i].y - steps[i - 1].y);
    const now = logger.by === 'time' ? steps[i].t : travelled;
    const changes = logger.state === 'cut' && on[i].some((v, k) => v !== on[i - 1][k]);
    // Going back to start again: a record ends where the planter stopped.
    if (steps[i].s < steps[i - 1].s) out.push(i - 1, i);
    else if (now >= next || changes || display[i] !== display[i - 1]) out.push(i);
    while (now >= next) next += logger.every;
  }
  if (out[out.length - 1] !== steps.length - 1) out.push(steps.length - 1);
  return out;
}

export function logging(
  random: Random,
  pass: number,
  steps: readonly Step[],
  states: { on: Uint8Array[]; display: Display[] },
  logger: Logger,
  firstBar: number,
): Log[] {
  const { on, display } = states;
  const out: Log[] = [];
  let bar = firstBar;
  let from = 0;
  const list = instants(random, steps, logger, states);
  for (const to of list.slice(1)) {
    // Going back to start again, or standing: nothing is written, and the next record begins where planting does.
    const ahead =
      Math.cos(steps[from].h) * (steps[to].x - steps[from].x) + Math.sin(steps[from].h) * (steps[to].y - steps[from].y);
    if (ahead < 0.04) {
      if (ahead < -0.04 || display[to] !== display[from]) from = to;
      continue;
    }
    const d = display[from];
    let any = false;
    d.bands.forEach((b, section) => {
      if (b === null) return;
      const put = (a: number, z: number): void => {
        if (a === z) return;
        out.push({ pass, section, from: steps[a], to: steps[z], bar, display: d });
        any = true;
      };
      if (logger.state === 'cut section') {
        let start = -1;
        for (let i = from; i <= to; i++) {
          const state = i < to && on[i][section] === 1;
          if (state && start < 0) start = i;
          if (!state && start >= 0) {
            put(start, i);
            start = -1;
          }
        }
      } else if (on[logger.state === 'end' ? to : from][section]) put(from, to);
    });
    if (any) bar++;
    from = to;
  }
  return out;
}
