import { Covered } from './covered.ts';
import { Random, Wander } from './random.ts';
import { inset, inside, type Leg, type Point, planRoute } from './route.ts';
import type { Belief, DrawnPass, FieldSpec, Strip } from './spec.ts';
import { drawnStrips, plantedReach } from './toolbar.ts';

/** One section over one log interval, as the display draws it. */
export interface Piece {
  pass: number;
  bar: number;
  /** Log interval, counted over the whole job whether anything was recorded or not; neighbors in one pass touch. */
  interval: number;
  section: number;
  /** Seconds since the start of the job, at the end of the interval. */
  t: number;
  headingDeg: number;
  widthM: number;
  speedMPerS: number;
  /** Back left, back right, front right, front left: meters in the job's frame. */
  ring: [Point, Point, Point, Point];
}

export interface Recording {
  pieces: Piece[];
  passes: DrawnPass[];
  bars: number;
  travelM: number;
}

export function believe(spec: FieldSpec, over: Partial<Belief> = {}): Belief {
  return { ...spec.truth, ...spec.belief, ...over };
}

/** How far to the right of the guidance line the middle of the frame runs, meters. */
function frameFromLine(spec: FieldSpec): number {
  if (spec.centerOn === 'frame') return 0;
  const [left, right] = plantedReach(spec.truth);
  return -(left + right) / 2;
}

interface Moment {
  s: number;
  t: number;
  speed: number;
  /** Middle of the frame on the ground, and the way ahead. */
  at: Point;
  ahead: Point;
  /** Middle of the frame as the display has it. */
  drawn: Point;
  drawnAhead: Point;
}

const besides = (p: Point, ahead: Point, right: number, forward = 0): Point => [
  p[0] + right * ahead[1] + forward * ahead[0],
  p[1] - right * ahead[0] + forward * ahead[1],
];

/** Drives the field and writes down what the display records. */
export function record(spec: FieldSpec): Recording {
  const random = new Random(spec.seed);
  const hz = spec.hz ?? 1;
  const speed = spec.speedMPerS ?? 2.2;
  const spread = spec.speedSpread ?? 0.08;
  const noise = { wanderM: 0.02, passBiasM: 0.01, headingDeg: 0.15, ...spec.noise };
  const control = spec.sectionControl ?? spec.shape.kind === 'field';
  const first = believe(spec);
  const before = drawnStrips(first);
  const then = spec.change ? believe(spec, { ...spec.change.belief }) : first;
  const after = spec.change ? drawnStrips(then) : before;
  const off = frameFromLine(spec);
  const reach: [number, number] = [
    off + Math.min(before[0].leftM, after[0].leftM),
    off + Math.max(before[before.length - 1].rightM, after[after.length - 1].rightM),
  ];
  const inline = (spec.truth.offsetBackM ?? 0) - (first.offsetBackM ?? 0);
  const side = (first.offsetRightM ?? 0) - (spec.truth.offsetRightM ?? 0) + (spec.sideShiftM ?? 0);
  const onLateS = (spec.truth.onDelayS ?? 0) - (first.onDelayS ?? 0);
  const offLateS = (spec.truth.offDelayS ?? 0) - (first.offDelayS ?? 0);
  const lateM = 1.3 * speed * Math.max(Math.abs(onLateS), Math.abs(offLateS)) + Math.abs(inline);
  const route = planRoute({
    shape: spec.shape,
    spacingM: spec.passSpacingM,
    reach,
    runInM: (spec.runInM ?? 2.5) + (control ? lateM : 0),
    random,
  });
  const edge = route.field ? inset(route.field, -1) : null;
  const ground = new Covered();
  const east = new Wander(random, noise.wanderM, 25);
  const north = new Wander(random, noise.wanderM, 25);
  const yaw = new Wander(random, (noise.headingDeg * Math.PI) / 180, 10);
  const pace = new Wander(random, spread, 40);

  const pieces: Piece[] = [];
  const passes: DrawnPass[] = [];
  let bars = 0;
  let interval = 0;
  let clock = 0;
  let travelM = 0;

  const drive = (leg: Leg): void => {
    const bias: Point = [noise.passBiasM * random.normal(), noise.passBiasM * random.normal()];
    const legPace = 1 + spread * random.normal();
    const moments: Moment[] = [];
    // The interval in which the planter is lifted is recorded to its end.
    for (let s = 0, lifted = false; !lifted; ) {
      lifted = s >= leg.track.lengthM;
      const v = speed * Math.min(1.5, Math.max(0.5, legPace + pace.after(1 / hz)));
      const { at, ahead } = leg.track.at(s);
      const truly = besides(at, ahead, off);
      const a = yaw.after(1 / hz);
      const drawnAhead: Point = [
        ahead[0] * Math.cos(a) - ahead[1] * Math.sin(a),
        ahead[0] * Math.sin(a) + ahead[1] * Math.cos(a),
      ];
      const shifted = besides(truly, ahead, side, inline);
      moments.push({
        s,
        t: clock,
        speed: v,
        at: truly,
        ahead,
        drawn: [shifted[0] + east.after(1 / hz) + bias[0], shifted[1] + north.after(1 / hz) + bias[1]],
        drawnAhead,
      });
      clock += 1 / hz;
      s += v / hz;
    }
    interval++;
    const number = passes.length + 1;
    const on = new Map<number, boolean>();
    const laid: [Point, Point, Point, Point][] = [];
    const start = pieces.length;
    for (let i = 0; i + 1 < moments.length; i++) {
      interval++;
      const a = moments[i];
      const b = moments[i + 1];
      const changed =
        spec.change !== undefined &&
        (number > spec.change.pass || (number === spec.change.pass && i + 1 >= (spec.change.bar ?? 1)));
      const belief = changed ? then : first;
      const strips = changed ? after : before;
      const middle = (a.s + b.s) / 2;
      const open = (strip: Strip, lateS: number): boolean => {
        const p = leg.track.at(middle - lateS * a.speed);
        // Off only where the whole strip is covered: no ground is left open.
        return [0.1, 0.5, 0.9].some((f) => {
          const spot = besides(p.at, p.ahead, off + strip.leftM + f * (strip.rightM - strip.leftM));
          return !ground.has(spot) && (edge === null || inside(edge, spot));
        });
      };
      const lit: Strip[] = [];
      strips.forEach((strip, k) => {
        const watched = belief.mirrored ? strips[strips.length - 1 - k] : strip;
        const was = on.get(strip.section) ?? false;
        let is = !control || open(watched, was ? offLateS : onLateS);
        on.set(strip.section, is);
        if (belief.stuckOn === strip.section) is = true;
        const out = belief.stuckOff;
        if (
          out &&
          out.section === strip.section &&
          number >= (out.from ?? 1) &&
          number <= (out.to ?? Number.POSITIVE_INFINITY)
        )
          is = false;
        if (is) lit.push(strip);
      });
      if (lit.length === 0) continue;
      bars++;
      travelM += b.s - a.s;
      const headingDeg = (Math.atan2(b.drawnAhead[0], b.drawnAhead[1]) * 180) / Math.PI;
      for (const strip of lit) {
        const corner = (m: Moment, x: number): Point => besides(m.drawn, m.drawnAhead, x);
        pieces.push({
          pass: number,
          bar: bars,
          interval,
          section: strip.section,
          t: b.t,
          headingDeg,
          widthM: strip.rightM - strip.leftM,
          speedMPerS: a.speed,
          ring:
            spec.corners === 'independent'
              ? ownRectangle(a, b, strip)
              : [corner(a, strip.leftM), corner(a, strip.rightM), corner(b, strip.rightM), corner(b, strip.leftM)],
        });
        laid.push([
          besides(a.at, a.ahead, strip.leftM),
          besides(a.at, a.ahead, strip.rightM),
          besides(b.at, b.ahead, strip.rightM),
          besides(b.at, b.ahead, strip.leftM),
        ]);
      }
    }
    // A run that recorded next to nothing (all of its ground was covered before) is not a pass, and leaves no record.
    if (pieces.length - start === 0) return;
    for (const q of laid) ground.add(q);
    passes.push({ number, kind: leg.kind, line: leg.line, direction: leg.direction, records: pieces.length - start });
    clock += Math.round(random.between(14, 26));
  };
  for (const leg of route.legs) drive(leg);
  return { pieces, passes, bars, travelM };
}

/** A rectangle about the middle of the strip, as long as the way that was driven: it shares no corner with its neighbors. */
function ownRectangle(a: Moment, b: Moment, strip: Strip): [Point, Point, Point, Point] {
  const way: Point = [b.drawn[0] - a.drawn[0], b.drawn[1] - a.drawn[1]];
  const long = Math.sqrt(way[0] * way[0] + way[1] * way[1]);
  const x = (strip.leftM + strip.rightM) / 2;
  const half = (strip.rightM - strip.leftM) / 2;
  const back = besides(a.drawn, a.drawnAhead, x);
  const front = besides(a.drawn, a.drawnAhead, x, long);
  return [
    besides(back, a.drawnAhead, -half),
    besides(back, a.drawnAhead, half),
    besides(front, a.drawnAhead, half),
    besides(front, a.drawnAhead, -half),
  ];
}
