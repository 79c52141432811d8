import { Random } from '../generator/random.ts';

/** Where a planter stood at one log instant; `on` says which sections planted on the way there from the instant before. */
export interface State {
  xM: number;
  yM: number;
  /** Clockwise from north. */
  headingDeg: number;
  s: number;
  on: readonly boolean[];
}

/** A drive without a break in recording. */
export type Run = State[];

/** How the log was kept and written. */
export interface Writing {
  seed: number;
  /** Section edges left to right, meters from the middle of the frame. */
  edgesM: readonly number[];
  grain: 'section' | 'bar' | 'parts' | 'strip' | 'strip-section';
  /** Digits behind the point of a degree. */
  digits: number;
  /** Corners of every record drawn from its own heading, off by this much (one standard deviation); null: neighbors share their corners. */
  jitterDeg: number | null;
  /** Points beyond the four corners, at most, and corners that are written twice. */
  extraPoints: number;
  columns: readonly ('time' | 'section' | 'heading' | 'constant')[];
  /** Times in whole seconds. */
  wholeSeconds?: boolean;
  order: 'log' | 'by-section' | 'shuffled';
}

/** The true origin of each record. */
export interface Truth {
  run: number;
  /** Log instant over the whole map. */
  instant: number;
  /** First section from the left, 0-based. */
  section: number;
  headingDeg: number;
  areaM2: number;
  /** Quads that the record holds: its parts. */
  parts: number;
}

export interface Drawn {
  geojson: string;
  records: Truth[];
  areaM2: number;
}

type Point = [number, number];

/** Place of the plane on Earth, and meters to a degree there (WGS 84: M and N cos(lat) at 42 degrees north). */
const PLACE = { lon: -93.6, lat: 42, east: 82_850.55, north: 111_066.6 };

/** A point `rightM` to the right of a state, across `headingDeg`. */
const beside = (p: State, headingDeg: number, rightM: number): Point => {
  const h = (headingDeg * Math.PI) / 180;
  return [p.xM + rightM * Math.cos(h), p.yM - rightM * Math.sin(h)];
};

interface Quad {
  run: number;
  instant: number;
  section: number;
  state: State;
  /** Back left, back right, front right, front left. */
  corners: Point[];
}

/** Writes what was driven as a map. */
export function write(runs: readonly Run[], w: Writing): Drawn {
  const random = new Random(w.seed);
  const quads = quadsOf(runs, w, random);
  const groups = gather(quads, w.grain);
  if (w.order === 'by-section') groups.sort((a, b) => a[0].section - b[0].section || a[0].instant - b[0].instant);
  if (w.order === 'shuffled') {
    for (let i = groups.length - 1; i > 0; i--) {
      const j = Math.floor(random.next() * (i + 1));
      [groups[i], groups[j]] = [groups[j], groups[i]];
    }
  }
  const features: string[] = [];
  const records: Truth[] = [];
  for (const g of groups) {
    const strip = w.grain === 'strip' || w.grain === 'strip-section';
    const rings = strip ? [outlineOf(g)] : g.map((q) => q.corners);
    const first = g[0];
    const text = rings.map((r) => `[${ringText(spoil(r, w, strip, random), w)}]`);
    const geometry =
      w.grain === 'parts' && text.length > 1
        ? `{"type":"MultiPolygon","coordinates":[${text.join(',')}]}`
        : `{"type":"Polygon","coordinates":${text[0]}}`;
    features.push(`{"type":"Feature","properties":${propertiesOf(first, w)},"geometry":${geometry}}`);
    records.push({
      run: first.run,
      instant: first.instant,
      section: first.section,
      headingDeg: first.state.headingDeg,
      areaM2: rings.reduce((s, r) => s + Math.abs(areaOf(r)), 0),
      parts: rings.length,
    });
  }
  return {
    geojson: `{"type":"FeatureCollection","features":[\n${features.join(',\n')}\n]}`,
    records,
    areaM2: records.reduce((s, r) => s + r.areaM2, 0),
  };
}

function propertiesOf({ section, state }: Quad, w: Writing): string {
  const out: string[] = [];
  for (const c of w.columns) {
    if (c === 'time') {
      const ms = Date.UTC(2026, 4, 11, 13) + 1000 * (w.wholeSeconds ? Math.floor(state.s) : state.s);
      out.push(`"logged":${JSON.stringify(new Date(Math.round(ms)).toISOString())}`);
    }
    if (c === 'section') out.push(`"sec_no":${section + 1}`);
    if (c === 'heading') out.push(`"course":${state.headingDeg.toFixed(1)}`);
    if (c === 'constant') out.push('"section":1');
  }
  return `{${out.join(',')}}`;
}

function quadsOf(runs: readonly Run[], w: Writing, random: Random): Quad[] {
  const out: Quad[] = [];
  const n = w.edgesM.length - 1;
  let instant = 0;
  runs.forEach((states, run) => {
    for (let i = 1; i < states.length; i++, instant++) {
      const a = states[i - 1];
      const b = states[i];
      const off = (s: State): number => s.headingDeg + (w.jitterDeg ?? 0) * random.normal();
      // One heading for all sections of an instant: they are drawn from one pose.
      const [ha, hb] = w.jitterDeg === null ? [a.headingDeg, b.headingDeg] : [off(a), off(b)];
      const whole = w.grain === 'bar' || w.grain === 'strip';
      for (let k = 0; k < n; k++) {
        if (!b.on[k]) continue;
        const from = k;
        // A whole bar spans from its first section that is on to the next one that is off.
        while (whole && k + 1 < n && b.on[k + 1]) k++;
        const [l, r] = [w.edgesM[from], w.edgesM[k + 1]];
        out.push({
          run,
          instant,
          section: from,
          state: b,
          corners: [beside(a, ha, l), beside(a, ha, r), beside(b, hb, r), beside(b, hb, l)],
        });
      }
    }
  });
  return out;
}

/** Quads that are one record. */
function gather(quads: Quad[], grain: Writing['grain']): Quad[][] {
  if (grain === 'section' || grain === 'bar') return quads.map((q) => [q]);
  const out: Quad[][] = [];
  if (grain === 'parts') {
    for (const q of quads) {
      const last = out[out.length - 1];
      if (last && last[0].instant === q.instant) last.push(q);
      else out.push([q]);
    }
    return out;
  }
  const open = new Map<string, Quad[]>();
  for (const q of quads) {
    const width = Math.round(100 * Math.hypot(q.corners[1][0] - q.corners[0][0], q.corners[1][1] - q.corners[0][1]));
    const key = `${q.run} ${q.section} ${width}`;
    const last = open.get(key);
    if (last && last[last.length - 1].instant === q.instant - 1) last.push(q);
    else {
      const g = [q];
      open.set(key, g);
      out.push(g);
    }
  }
  return out;
}

/** Up the right side, back down the left. */
function outlineOf(quads: Quad[]): Point[] {
  const right: Point[] = [];
  const left: Point[] = [];
  const put = (side: Point[], p: Point): void => {
    const last = side[side.length - 1];
    if (!last || Math.hypot(last[0] - p[0], last[1] - p[1]) > 1e-6) side.push(p);
  };
  for (const { corners: c } of quads) {
    put(left, c[0]);
    put(left, c[3]);
    put(right, c[1]);
    put(right, c[2]);
  }
  return [...right, ...left.reverse()];
}

/** The ring with points on its sides, and some written twice. */
function spoil(ring: Point[], w: Writing, strip: boolean, random: Random): Point[] {
  if (w.extraPoints === 0 || strip) return ring;
  const most = 1 + Math.floor(random.next() * w.extraPoints);
  const out: Point[] = [];
  const cuts = new Map<number, number[]>();
  for (let k = 0; k < most; k++) {
    const side = Math.floor(random.next() * ring.length);
    cuts.set(side, [...(cuts.get(side) ?? []), random.next() < 0.3 ? 0 : 0.1 + 0.8 * random.next()]);
  }
  ring.forEach((p, i) => {
    const q = ring[(i + 1) % ring.length];
    out.push(p);
    for (const f of (cuts.get(i) ?? []).sort((a, b) => a - b))
      out.push([p[0] + f * (q[0] - p[0]), p[1] + f * (q[1] - p[1])]);
  });
  // Any corner may come first.
  const first = Math.floor(random.next() * out.length);
  return [...out.slice(first), ...out.slice(0, first)];
}

function ringText(ring: Point[], { digits }: Writing): string {
  const one = ([x, y]: Point): string =>
    `[${(PLACE.lon + x / PLACE.east).toFixed(digits)},${(PLACE.lat + y / PLACE.north).toFixed(digits)}]`;
  return `[${[...ring, ring[0]].map(one).join(',')}]`;
}

function areaOf(ring: Point[]): number {
  let a = 0;
  ring.forEach(([x, y], i) => {
    const [u, v] = ring[(i + 1) % ring.length];
    a += x * v - u * y;
  });
  return a / 2;
}

/** How a field is driven. */
export interface Driving {
  seed: number;
  edgesM: readonly number[];
  route: 'back-and-forth' | 'every-other' | 'one-way' | 'round' | 'contours';
  passes: number;
  lengthM: number;
  /** Log step. */
  everyM: number;
  speedMPerS: number;
  /** Seconds between one pass and the next. */
  breakS: number;
  directionDeg: number;
  /** Bars recorded in the turn at the end of each pass. */
  turnBars: number;
  /** Passes that stop on the way, back up unrecorded, and start again in the same place. */
  restarts: number;
  /** Sections that shut off at slanted ends; the outer section off for whole passes. */
  off: 'never' | 'point-rows' | 'outer';
}

/** Drives the field. Positions wander by a few centimeters. */
export function drive(d: Driving): Run[] {
  const random = new Random(d.seed);
  const widthM = d.edgesM[d.edgesM.length - 1] - d.edgesM[0];
  const n = d.edgesM.length - 1;
  const lines = linesOf(d, widthM);
  let clock = 0;
  const runs: Run[] = [];
  const restarting = new Set(Array.from({ length: d.restarts }, (_, i) => 1 + 2 * i));
  lines.forEach((line, number) => {
    const slant = d.off === 'point-rows' ? 0.3 + 0.7 * random.next() : 0;
    const outerOff = d.off === 'outer' && number % 3 === 1;
    const all = walk(line, d.everyM, random);
    const poses = d.turnBars > 0 ? [...all, ...turn(all, d, widthM)] : all;
    const cutAt = restarting.has(number) ? Math.floor(poses.length * (0.4 + 0.2 * random.next())) : -1;
    let run: Run = [];
    poses.forEach((p, i) => {
      if (i > 0) clock += p.stepM / d.speedMPerS;
      // Right of travel in the field's own frame decides where a slanted end lies.
      const on = Array.from({ length: n }, (_, k) => {
        const mid = (d.edgesM[k] + d.edgesM[k + 1]) / 2;
        if (outerOff && k === n - 1) return false;
        return slant === 0 || p.goneM > slant * (mid - d.edgesM[0]);
      });
      run.push({ xM: p.x, yM: p.y, headingDeg: p.headingDeg, s: clock, on });
      if (i !== cutAt) return;
      runs.push(run);
      clock += 20;
      // Backed up over 1 to 4 m that were planted, and down again.
      const back = Math.max(1, Math.round((1 + 3 * random.next()) / d.everyM));
      run = [];
      for (let k = i - back; k <= i; k++) {
        if (k > i - back) clock += d.everyM / d.speedMPerS;
        const q = poses[k];
        const jog = 0.02 * random.normal();
        const h = (q.headingDeg * Math.PI) / 180;
        const along = 0.31 * d.everyM;
        run.push({
          xM: q.x + jog + along * Math.sin(h),
          yM: q.y + jog + along * Math.cos(h),
          headingDeg: q.headingDeg,
          s: clock,
          on: new Array<boolean>(n).fill(true),
        });
      }
    });
    runs.push(run);
    clock += d.breakS;
  });
  const a = (d.directionDeg * Math.PI) / 180;
  return runs.map((run) =>
    run.map((p) => ({
      ...p,
      xM: p.xM * Math.cos(a) + p.yM * Math.sin(a),
      yM: -p.xM * Math.sin(a) + p.yM * Math.cos(a),
      headingDeg: (((p.headingDeg + d.directionDeg) % 360) + 360) % 360,
    })),
  );
}

/** Middle lines of the passes, in driving order, in the direction driven; x across, y along. */
function linesOf(d: Driving, widthM: number): Point[][] {
  const straight = (k: number, up: boolean): Point[] => {
    const x = k * widthM;
    return up
      ? [
          [x, 0],
          [x, d.lengthM],
        ]
      : [
          [x, d.lengthM],
          [x, 0],
        ];
  };
  const numbers = Array.from({ length: d.passes }, (_, k) => k);
  if (d.route === 'every-other') {
    const order = [...numbers.filter((k) => k % 2 === 0), ...numbers.filter((k) => k % 2 === 1)];
    return order.map((k, i) => straight(k, i % 2 === 0));
  }
  if (d.route === 'one-way') return numbers.map((k) => straight(k, true));
  if (d.route === 'contours') {
    // Parallel curves of a sine: the middle line of pass k is the first one moved along its normals.
    const wave = d.lengthM / 1.5;
    const high = 0.03 * wave;
    return numbers.map((k) => {
      const line: Point[] = [];
      for (let y = 0; y <= d.lengthM; y += 1) {
        const slope = ((high * 2 * Math.PI) / wave) * Math.cos((2 * Math.PI * y) / wave);
        const l = Math.hypot(1, slope);
        line.push([high * Math.sin((2 * Math.PI * y) / wave) + (k * widthM) / l, y - (k * widthM * slope) / l]);
      }
      return k % 2 === 0 ? line : line.reverse();
    });
  }
  if (d.route === 'round') {
    // Laps inward, corners driven in a bow.
    const laps: Point[][] = [];
    const r = 0.8 * widthM;
    for (let k = 0; k < d.passes; k++) {
      const [w, h] = [d.passes * 2 * widthM + 4 * r - 2 * k * widthM, d.lengthM - 2 * k * widthM];
      if (h < 4 * r) break;
      const [x0, y0] = [k * widthM, k * widthM];
      const line: Point[] = [[x0, y0 + r]];
      const arc = (cx: number, cy: number, from: number): void => {
        for (let t = 0; t <= 90; t += 5) {
          const a = ((from - t) * Math.PI) / 180;
          line.push([cx + r * Math.cos(a), cy + r * Math.sin(a)]);
        }
      };
      arc(x0 + r, y0 + h - r, 180);
      arc(x0 + w - r, y0 + h - r, 90);
      arc(x0 + w - r, y0 + r, 0);
      line.push([x0 + 2 * r, y0]);
      laps.push(line);
    }
    return laps;
  }
  return numbers.map((k) => straight(k, k % 2 === 0));
}

interface Pose {
  x: number;
  y: number;
  headingDeg: number;
  stepM: number;
  goneM: number;
}

/** Log instants along a line, a step apart but for the slow start, with the wander of a receiver. */
function walk(line: Point[], everyM: number, random: Random): Pose[] {
  const out: Pose[] = [];
  const lengths = line.map((p, i) => (i ? Math.hypot(p[0] - line[i - 1][0], p[1] - line[i - 1][1]) : 0));
  const total = lengths.reduce((a, b) => a + b, 0);
  const at = (s: number): { p: Point; h: number } => {
    let i = 1;
    while (i + 1 < line.length && s > lengths[i]) s -= lengths[i++];
    const f = s / lengths[i];
    const [a, b] = [line[i - 1], line[i]];
    return {
      p: [a[0] + f * (b[0] - a[0]), a[1] + f * (b[1] - a[1])],
      h: Math.atan2(b[0] - a[0], b[1] - a[1]),
    };
  };
  let wander = 0;
  let gone = 0;
  for (let i = 0; ; i++) {
    const step = i === 0 ? 0 : everyM * (i < 3 ? 0.5 : 1) * (1 + 0.05 * random.normal());
    gone += step;
    if (gone > total) break;
    wander = 0.95 * wander + 0.005 * random.normal();
    const { p } = at(gone);
    // The way ahead over a step either side, as a display has it.
    const b = at(Math.max(0, gone - 1)).p;
    const f = at(Math.min(total, gone + 1)).p;
    const h = Math.atan2(f[0] - b[0], f[1] - b[1]);
    out.push({
      x: p[0] + wander * Math.cos(h),
      y: p[1] - wander * Math.sin(h),
      headingDeg: (h * 180) / Math.PI,
      stepM: step,
      goneM: gone,
    });
  }
  return out;
}

/** A bow at the end of a pass, recorded while the frame lifts. */
function turn(poses: Pose[], d: Driving, widthM: number): Pose[] {
  const out: Pose[] = [];
  let { x, y, headingDeg, goneM } = poses[poses.length - 1];
  const r = 0.7 * widthM;
  for (let i = 0; i < d.turnBars; i++) {
    const a = d.everyM / r;
    const h = (headingDeg * Math.PI) / 180 + a / 2;
    x += d.everyM * Math.sin(h);
    y += d.everyM * Math.cos(h);
    headingDeg += (a * 180) / Math.PI;
    goneM += d.everyM;
    out.push({ x, y, headingDeg, stepM: d.everyM, goneM });
  }
  return out;
}
