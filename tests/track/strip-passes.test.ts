/** Strips of sections and of passes, and laps, drawn by hand: what belongs together is known. */
import { describe, expect, test } from 'vitest';
import { Budget, tooClose } from '../../src/core/geometry/budget.ts';
import type { Column } from '../../src/core/intake/types.ts';
import { openLaps, signedArea } from '../../src/core/track/laps.ts';
import { stripPasses } from '../../src/core/track/strip-passes.ts';
import { Random } from '../generator/random.ts';

const budget = new Budget(1e9, 0, 0, tooClose);
const STEP_M = 0.01;
const onLattice = (v: number): number => Math.round(v / STEP_M) * STEP_M;

/** A strip from `left` to `right` of a line that wanders by centimeters, every 4 m from `from` to `to`. */
function strip(line: (y: number) => number, left: number, right: number, from: number, to: number): Float64Array {
  const ys = Array.from({ length: Math.ceil((to - from) / 4) + 1 }, (_, i) => Math.min(to, from + 4 * i));
  const side = (x: number): number[][] => ys.map((y) => [onLattice(x + line(y)), onLattice(y)]);
  return Float64Array.from([...side(right), ...side(left).reverse()].flat());
}

const EDGES = [0, 1.5, 2.25, 3.75, 6];

/** Passes of four sections, driven one way, `tight` meters of steering. `off`: a section that records nothing. */
function passes(random: Random, count: number, tight: number, off = -1) {
  const rings: Float64Array[] = [];
  const section: number[] = [];
  const pass: number[] = [];
  for (let p = 0; p < count; p++) {
    const bias = random.normal() * tight;
    const phase = random.between(0, 6);
    const line = (y: number): number => 6 * p + bias + tight * Math.sin(y / 15 + phase);
    const [from, to] = [random.between(0, 1.5), 120 + random.between(0, 1.5)];
    for (let k = 0; k + 1 < EDGES.length; k++) {
      if (k === off) continue;
      rings.push(strip(line, EDGES[k], EDGES[k + 1], from, to));
      section.push(k + 1);
      pass.push(p);
    }
  }
  const column: Column = { kind: 'number', name: 'sec_no', values: Float64Array.from(section) } as Column;
  return { rings, pass, column };
}

/** Rings of one pass have one number, and no two passes share one. */
function expectPasses(passOf: Int32Array, pass: readonly number[]): void {
  pass.forEach((p, i) => {
    pass.forEach((q, k) => {
      expect(passOf[i] === passOf[k], `strips ${i} and ${k} of passes ${p} and ${q}`).toBe(p === q);
    });
  });
}

describe('sections of one pass are kept apart from the next pass', () => {
  test('steered to 2 cm, without a column: all sections of a pass, and nearly all passes', () => {
    let seams = 0;
    let taken = 0;
    for (let seed = 1; seed <= 12; seed++) {
      const { rings, pass } = passes(new Random(seed), 6, 0.02);
      const { passOf } = stripPasses(rings, [...rings.keys()], [], STEP_M, budget);
      pass.forEach((p, i) => {
        if (i === 0) return;
        if (p === pass[i - 1]) expect(passOf[i], `strips ${i - 1} and ${i}, seed ${seed}`).toBe(passOf[i - 1]);
        else {
          seams++;
          if (passOf[i] === passOf[i - 1]) taken++;
        }
      });
    }
    // Chance lays some passes together to a few millimeters.
    expect(taken / seams).toBeLessThan(0.1);
  });

  test.each([6, 7, 8])('steered to 5 mm, by the number of the section, seed %i', (seed) => {
    const { rings, pass, column } = passes(new Random(seed), 6, 0.005);
    expectPasses(stripPasses(rings, [...rings.keys()], [column], STEP_M, budget).passOf, pass);
  });

  test.each([9, 10])('a section in the middle that records nothing parts no pass, seed %i', (seed) => {
    const { rings, pass, column } = passes(new Random(seed), 5, 0.02, 1);
    expectPasses(stripPasses(rings, [...rings.keys()], [column], STEP_M, budget).passOf, pass);
  });
});

describe('a lap around the field', () => {
  const box = (x: number, y: number, w: number, h: number, hole = false): Float64Array => {
    const ring = [x, y, x + w, y, x + w, y + h, x, y + h];
    return Float64Array.from(
      hole ? [ring.slice(0, 2), ring.slice(6), ring.slice(4, 6), ring.slice(2, 4)].flat() : ring,
    );
  };

  test('is cut open into one ring of the same ground', () => {
    const rings = [box(0, 0, 120, 80), box(6, 6, 108, 68, true)];
    const out = openLaps(rings, budget);
    expect(out).toHaveLength(1);
    expect(out[0].length).toBeGreaterThan(rings[0].length + rings[1].length);
    expect(signedArea(out[0])).toBeCloseTo(120 * 80 - 108 * 68, 6);
  });

  test('is none where a section was off inside a strip', () => {
    const rings = [box(0, 0, 120, 12), box(30, 4, 40, 2, true)];
    expect(openLaps(rings, budget)).toEqual([rings[0]]);
  });
});
