import type { Shapes } from '../../src/core/geometry/shapes.ts';

/**
 * The slow answer: everything cut into trapezoids between the heights of all corners and crossings, in exact fractions. Shares nothing
 * with the engine but the shape arrays. For a few dozen edges.
 */
export interface Truth {
  areas: number[];
  depthAreas: number[];
  already: number[];
  /** Middle of every trapezoid and how many shapes cover it. */
  probes: { x: number; y: number; depth: number }[];
  /** Connected pieces of ground at depth >= 1 and >= 2, and of bounded uncovered ground. */
  pieces: [number, number];
  enclosed: number;
}

interface Frac {
  n: bigint;
  d: bigint;
}

const gcd = (a: bigint, b: bigint): bigint => {
  while (b !== 0n) [a, b] = [b, a % b];
  return a < 0n ? -a : a;
};
const make = (n: bigint, d: bigint): Frac => {
  if (d < 0n) [n, d] = [-n, -d];
  const g = gcd(n, d) || 1n;
  return { n: n / g, d: d / g };
};
const whole = (v: number): Frac => ({ n: BigInt(v), d: 1n });
const add = (a: Frac, b: Frac): Frac => make(a.n * b.d + b.n * a.d, a.d * b.d);
const sub = (a: Frac, b: Frac): Frac => make(a.n * b.d - b.n * a.d, a.d * b.d);
const mul = (a: Frac, b: Frac): Frac => make(a.n * b.n, a.d * b.d);
const cmp = (a: Frac, b: Frac): number => {
  const l = a.n * b.d;
  const r = b.n * a.d;
  return l < r ? -1 : l > r ? 1 : 0;
};
const toNumber = (a: Frac): number => {
  const q = a.n / a.d;
  const r = a.n % a.d;
  return Number(q) + Number((r << 80n) / a.d) / 2 ** 80;
};

interface Edge {
  shape: number;
  /** Among all rings. */
  ring: number;
  x0: number;
  y0: number;
  x1: number;
  y1: number;
  /** +1 upward, -1 downward, as the ring runs. */
  up: number;
}

/** The rules of `Shapes` and `Tangled`, word for word, where `winding` is that of each ring. */
function covers(shapes: Shapes, s: number, winding: readonly number[]): boolean {
  const from = shapes.shapeStart[s];
  const own = winding.slice(from, shapes.shapeStart[s + 1]);
  const roles = shapes.tangled?.get(s);
  if (roles === undefined) return own.reduce((a, b) => a + b, 0) !== 0;
  const odd = own.map((w) => w % 2 !== 0);
  return own.some((_, r) => roles[r] > 0 && odd[r] && !own.some((_, h) => roles[h] === -roles[r] && odd[h]));
}

/** `density` in whole numbers, as in AreaDensity. */
export function truth(shapes: Shapes, density: readonly [number, number, number, number] = [1, 0, 0, 0]): Truth {
  const count = shapes.shapeStart.length - 1;
  const edges: Edge[] = [];
  const heights: Frac[] = [];
  for (let s = 0; s < count; s++) {
    for (let r = shapes.shapeStart[s]; r < shapes.shapeStart[s + 1]; r++) {
      const a = shapes.ringStart[r];
      const b = shapes.ringStart[r + 1];
      for (let p = a; p < b; p++) {
        const q = p + 1 < b ? p + 1 : a;
        const [x0, y0, x1, y1] = [shapes.xy[2 * p], shapes.xy[2 * p + 1], shapes.xy[2 * q], shapes.xy[2 * q + 1]];
        heights.push(whole(y0));
        if (y0 < y1) edges.push({ shape: s, ring: r, x0, y0, x1, y1, up: 1 });
        else if (y0 > y1) edges.push({ shape: s, ring: r, x0: x1, y0: y1, x1: x0, y1: y0, up: -1 });
      }
    }
  }
  for (let i = 0; i < edges.length; i++) {
    for (let k = 0; k < i; k++) {
      const e = edges[i];
      const f = edges[k];
      const den = BigInt(e.x1 - e.x0) * BigInt(f.y1 - f.y0) - BigInt(e.y1 - e.y0) * BigInt(f.x1 - f.x0);
      if (den === 0n) continue;
      const num = BigInt(f.x0 - e.x0) * BigInt(f.y1 - f.y0) - BigInt(f.y0 - e.y0) * BigInt(f.x1 - f.x0);
      const t = make(num, den);
      if (t.n < 0n || t.n > t.d) continue;
      heights.push(add(whole(e.y0), mul(t, whole(e.y1 - e.y0))));
    }
  }
  heights.sort(cmp);
  const levels = heights.filter((h, i) => i === 0 || cmp(h, heights[i - 1]) !== 0);

  const areas = new Array<Frac>(count).fill(whole(0));
  const already = new Array<Frac>(count).fill(whole(0));
  const depthAreas: Frac[] = [];
  const probes: Truth['probes'] = [];
  interface Cell {
    level: number;
    depth: number;
    low: [Frac | null, Frac | null];
    high: [Frac | null, Frac | null];
  }
  const cells: Cell[] = [];
  const xAt = (e: Edge, y: Frac): Frac =>
    add(whole(e.x0), mul(make(BigInt(e.x1 - e.x0), BigInt(e.y1 - e.y0)), sub(y, whole(e.y0))));
  for (let l = 0; l + 1 < levels.length; l++) {
    const y0 = levels[l];
    const y1 = levels[l + 1];
    const mid = mul(add(y0, y1), make(1n, 2n));
    const here = edges
      .filter((e) => cmp(whole(e.y0), mid) < 0 && cmp(mid, whole(e.y1)) < 0)
      .map((e) => ({ e, x: xAt(e, mid) }))
      .sort((a, b) => cmp(a.x, b.x));
    const winding = new Array<number>(shapes.ringStart.length).fill(0);
    const within = (s: number): boolean => covers(shapes, s, winding);
    const all = Array.from({ length: count }, (_, s) => s);
    let lastLow: Frac | null = null;
    let lastHigh: Frac | null = null;
    for (let i = 0; i < here.length; ) {
      const first = here[i];
      const low = xAt(first.e, y0);
      const high = xAt(first.e, y1);
      const depth = all.filter(within).length;
      cells.push({ level: l, depth, low: [lastLow, low], high: [lastHigh, high] });
      if (i > 0) {
        const left = here[i - 1].e;
        // Boole's rule: exact for polynomials up to the fifth degree, and width times density has the fourth.
        let area = whole(0);
        const weights = [7, 32, 12, 32, 7];
        for (let b = 0; b < 5; b++) {
          const y = add(y0, mul(sub(y1, y0), make(BigInt(b), 4n)));
          const w = density.reduceRight((acc, c) => add(mul(acc, y), whole(c)), whole(0));
          area = add(area, mul(mul(sub(xAt(first.e, y), xAt(left, y)), w), make(BigInt(weights[b]), 90n)));
        }
        area = mul(area, sub(y1, y0));
        for (let k = 0; k < depth; k++) depthAreas[k] = add(depthAreas[k] ?? whole(0), area);
        let before = false;
        for (let s = 0; s < count; s++) {
          if (!within(s)) continue;
          areas[s] = add(areas[s], area);
          if (before) already[s] = add(already[s], area);
          before = true;
        }
        probes.push({ x: toNumber(mul(add(first.x, here[i - 1].x), make(1n, 2n))), y: toNumber(mid), depth });
      }
      lastLow = low;
      lastHigh = high;
      const x = first.x;
      while (i < here.length && cmp(here[i].x, x) === 0) winding[here[i].e.ring] -= here[i++].e.up;
    }
    cells.push({ level: l, depth: 0, low: [lastLow, null], high: [lastHigh, null] });
  }

  // Pieces: trapezoids of neighboring levels that share a stretch of height line, joined where the test agrees.
  const joined = (test: (depth: number) => boolean, outside: boolean): number => {
    const parent = cells.map((_, i) => i);
    parent.push(cells.length);
    const find = (i: number): number => {
      while (parent[i] !== i) i = parent[i];
      return i;
    };
    const join = (a: number, b: number): void => {
      parent[find(a)] = find(b);
    };
    const byLevel: number[][] = levels.map(() => []);
    cells.forEach((c, i) => {
      byLevel[c.level].push(i);
    });
    const before = (a: Frac | null, b: Frac | null): boolean => a === null || b === null || cmp(a, b) < 0;
    cells.forEach((c, i) => {
      if (!test(c.depth)) return;
      const open = c.low[0] === null || c.low[1] === null;
      if (outside && (open || c.level === 0 || c.level === levels.length - 2)) {
        const touchesRim =
          open ||
          (c.level === 0 && (c.low[0] as Frac) && cmp(c.low[0] as Frac, c.low[1] as Frac) < 0) ||
          (c.level === levels.length - 2 && cmp(c.high[0] as Frac, c.high[1] as Frac) < 0);
        if (touchesRim) join(i, cells.length);
      }
      for (const k of byLevel[c.level + 1] ?? []) {
        const d = cells[k];
        if (test(d.depth) && before(c.high[0] === null ? null : c.high[0], d.low[1]) && before(d.low[0], c.high[1])) {
          // Both intervals must themselves have length where they meet.
          const from =
            c.high[0] === null
              ? d.low[0]
              : d.low[0] === null
                ? c.high[0]
                : cmp(c.high[0], d.low[0]) > 0
                  ? c.high[0]
                  : d.low[0];
          const to =
            c.high[1] === null
              ? d.low[1]
              : d.low[1] === null
                ? c.high[1]
                : cmp(c.high[1], d.low[1]) < 0
                  ? c.high[1]
                  : d.low[1];
          if (before(from, to)) join(i, k);
        }
      }
      // Neighbors on the same level that no boundary of the tested ground parts.
      if (i + 1 < cells.length && cells[i + 1].level === c.level && test(cells[i + 1].depth)) join(i, i + 1);
    });
    const roots = new Set<number>();
    cells.forEach((c, i) => {
      if (test(c.depth)) roots.add(find(i));
    });
    if (outside) roots.delete(find(cells.length));
    return roots.size;
  };
  return {
    areas: areas.map(toNumber),
    depthAreas: depthAreas.map(toNumber),
    already: already.map(toNumber),
    probes,
    pieces: [joined((d) => d >= 1, false), joined((d) => d >= 2, false)],
    enclosed: joined((d) => d === 0, true),
  };
}
