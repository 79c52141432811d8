import type { Random } from './random.ts';
import type { Curve, FieldShape } from './spec.ts';

export type Point = [x: number, y: number];

/** A line to be driven, sampled every half meter or less, that can be asked for any distance along it, also beyond its ends. */
export class Track {
  private readonly along: number[] = [0];
  private readonly tangents: Point[];

  constructor(private readonly points: Point[]) {
    for (let i = 1; i < points.length; i++) this.along.push(this.along[i - 1] + distance(points[i - 1], points[i]));
    this.tangents = points.map((_, i) =>
      direction(points[Math.max(0, i - 1)], points[Math.min(points.length - 1, i + 1)]),
    );
  }

  get lengthM(): number {
    return this.along[this.along.length - 1];
  }

  /** Position and direction of travel `s` meters from the start. */
  at(s: number): { at: Point; ahead: Point } {
    const n = this.points.length;
    let lo = 0;
    let hi = n - 2;
    while (lo < hi) {
      const mid = (lo + hi + 1) >> 1;
      if (this.along[mid] <= s) lo = mid;
      else hi = mid - 1;
    }
    const f = (s - this.along[lo]) / (this.along[lo + 1] - this.along[lo]);
    const a = this.points[lo];
    const b = this.points[lo + 1];
    const g = Math.min(1, Math.max(0, f));
    const ta = this.tangents[lo];
    const tb = this.tangents[lo + 1];
    return {
      at: [a[0] + f * (b[0] - a[0]), a[1] + f * (b[1] - a[1])],
      ahead: unit([ta[0] + g * (tb[0] - ta[0]), ta[1] + g * (tb[1] - ta[1])]),
    };
  }

  cut(from: number, to: number): Track {
    const step = 0.5;
    const n = Math.max(2, Math.ceil((to - from) / step) + 1);
    return new Track(Array.from({ length: n }, (_, i) => this.at(from + ((to - from) * i) / (n - 1)).at));
  }

  /** Distances of samples about half a meter apart. */
  samples(): number[] {
    const n = Math.ceil(this.lengthM / 0.5);
    return Array.from({ length: n + 1 }, (_, i) => (this.lengthM * i) / n);
  }
}

export interface Leg {
  kind: 'headland' | 'interior';
  line: number | null;
  direction: number;
  track: Track;
}

export interface Route {
  legs: Leg[];
  /** The field's corners, counter-clockwise; null for a test strip in the open. */
  field: Point[] | null;
}

export interface Drive {
  shape: FieldShape;
  spacingM: number;
  /** Farthest the drawn strips reach to the left (negative) and right of the line. */
  reach: [number, number];
  runInM: number;
  random: Random;
}

const distance = (a: Point, b: Point): number => Math.sqrt((b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2);

function unit(v: Point): Point {
  const l = Math.sqrt(v[0] * v[0] + v[1] * v[1]);
  return [v[0] / l, v[1] / l];
}

function direction(a: Point, b: Point): Point {
  return unit([b[0] - a[0], b[1] - a[1]]);
}

/** The line `d` meters to the right of the sine curve (or straight line) through x = 0, from `low` to `high` along y. */
function parallel(d: number, low: number, high: number, curve: Curve | undefined): Track {
  const n = Math.ceil((high - low) / 0.5);
  const points: Point[] = [];
  for (let i = 0; i <= n; i++) {
    const y = low + ((high - low) * i) / n;
    if (!curve) {
      points.push([d, y]);
      continue;
    }
    const k = (2 * Math.PI) / curve.wavelengthM;
    const ahead = unit([curve.amplitudeM * k * Math.cos(k * y), 1]);
    points.push([curve.amplitudeM * Math.sin(k * y) + d * ahead[1], y - d * ahead[0]]);
  }
  return new Track(points);
}

/** Whether `p` lies in the convex polygon `corners` (counter-clockwise). */
export function inside(corners: Point[], p: Point): boolean {
  for (let i = 0; i < corners.length; i++) {
    const a = corners[i];
    const b = corners[(i + 1) % corners.length];
    if ((b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]) < 0) return false;
  }
  return true;
}

/** The convex polygon whose edges lie `d` meters inside those of `corners` (outside for negative `d`). */
export function inset(corners: Point[], d: number): Point[] {
  const n = corners.length;
  const edges = corners.map((a, i) => {
    const t = direction(a, corners[(i + 1) % n]);
    return { p: [a[0] - t[1] * d, a[1] + t[0] * d] as Point, t };
  });
  return edges.map((e, i) => {
    const before = edges[(i + n - 1) % n];
    const det = before.t[0] * e.t[1] - before.t[1] * e.t[0];
    const s = ((e.p[0] - before.p[0]) * e.t[1] - (e.p[1] - before.p[1]) * e.t[0]) / det;
    return [before.p[0] + s * before.t[0], before.p[1] + s * before.t[1]];
  });
}

/** Everything that is driven, in order, in a frame whose y axis is the first interior pass's travel. */
export function planRoute(d: Drive): Route {
  return d.shape.kind === 'strip' ? testStrips(d, d.shape) : wholeField(d, d.shape);
}

function turned(track: Track, back: boolean): Track {
  return back ? new Track(track.samples().map((s) => track.at(track.lengthM - s).at)) : track;
}

function testStrips(d: Drive, shape: FieldShape & { kind: 'strip' }): Route {
  const legs: Leg[] = [];
  const middle = ((shape.passes - 1) * d.spacingM) / 2;
  for (let i = 0; i < shape.passes; i++) {
    const back = !shape.sameWay && i % 2 === 1;
    const track = parallel(
      i * d.spacingM - middle,
      d.random.between(-0.8, 0.8),
      shape.lengthM + d.random.between(-0.8, 0.8),
      shape.curve,
    );
    legs.push({ kind: 'interior', line: i, direction: back ? -1 : 1, track: turned(track, back) });
  }
  return { legs, field: null };
}

function wholeField(d: Drive, shape: FieldShape & { kind: 'field' }): Route {
  const { lengthM, widthM } = shape;
  const slant = widthM * Math.tan(((shape.pointRowsDeg ?? 0) * Math.PI) / 180);
  const field: Point[] = [
    [-widthM / 2, 0],
    [widthM / 2, 0],
    [widthM / 2, lengthM + slant / 2],
    [-widthM / 2, lengthM - slant / 2],
  ];
  const legs: Leg[] = [];
  for (let lap = 0; lap < shape.headlandLaps; lap++) {
    const depth = (lap + 0.5) * d.spacingM;
    const ring = inset(field, depth);
    ring.forEach((a, i) => {
      const b = ring[(i + 1) % ring.length];
      // To the far edge of the crossing run at both ends, so that corners are planted out.
      const track = new Track([a, b]);
      const reach = d.spacingM / 2;
      legs.push({ kind: 'headland', line: null, direction: 0, track: track.cut(-reach, distance(a, b) + reach) });
    });
  }
  const hold = shape.headlandLaps * d.spacingM;
  const inner = hold > 0 ? inset(field, hold) : field;
  const bow = shape.curve?.amplitudeM ?? 0;
  const across = widthM - 2 * hold;
  const extra = Math.ceil(bow / d.spacingM);
  const lines = Math.ceil(across / d.spacingM - 1e-6) + 2 * extra;
  let driven = 0;
  for (let i = 0; i < lines; i++) {
    const x = -across / 2 + (i - extra + 0.5) * d.spacingM;
    const whole = parallel(x, -Math.abs(slant) - 40, lengthM + Math.abs(slant) + 40, shape.curve);
    const within = whole.samples().filter((s) => {
      const { at, ahead } = whole.at(s);
      return [d.reach[0], (d.reach[0] + d.reach[1]) / 2, d.reach[1]].some((r) =>
        inside(inner, [at[0] + r * ahead[1], at[1] - r * ahead[0]]),
      );
    });
    if (within.length < 40) continue;
    const back = !shape.sameWay && driven % 2 === 1;
    driven++;
    const low = within[0] - d.runInM * d.random.between(0.4, 1);
    const high = within[within.length - 1] + d.runInM * d.random.between(0.4, 1);
    legs.push({ kind: 'interior', line: i, direction: back ? -1 : 1, track: turned(whole.cut(low, high), back) });
  }
  return { legs, field };
}
