import { readdirSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { measure, openGround, outline, type Polygons } from '../../src/core/coverage/index.ts';
import { disagreements } from './agree.ts';
import { multipolygon, pieces, valid } from './jts.ts';
import { type Rings, toShapes } from './tools.ts';

interface Expected {
  areaAtDepth: number[];
  alreadyCovered: number[];
  covered: { polygons: number; holes: number };
  overlap: { polygons: number; holes: number };
  gaps: number;
}

const folder = new URL('./cases/', import.meta.url);
const names = readdirSync(folder);

function read(name: string): { list: Rings[]; expected: Expected } {
  const text = (file: string): string => readFileSync(new URL(`${name}/${file}`, folder), 'utf8');
  const map = JSON.parse(text('input.geojson')) as { features: { geometry: { coordinates: number[][][] } }[] };
  expect(text('why.md').length).toBeGreaterThan(20);
  return {
    list: map.features.map((f) => f.geometry.coordinates.map((ring) => ring.slice(0, -1).flat())),
    expected: JSON.parse(text('expected.json')) as Expected,
  };
}

function count(p: Polygons): { polygons: number; holes: number } {
  if (p.polygonStart.length < 2) return { polygons: 0, holes: 0 };
  const g = multipolygon(p);
  expect(valid(g)).toBe(true);
  return pieces(g);
}

// Outside: plane arithmetic by hand in expected.json, the exact oracle, JSTS validity.
describe('named cases', () => {
  it('are there', () => {
    expect(names.length).toBeGreaterThanOrEqual(17);
  });
  it.each(names)('%s', (name) => {
    const { list, expected } = read(name);
    const shapes = toShapes(list);
    const m = measure(shapes, [1, 0, 0, 0]);
    expect(Array.from(m.areaAtDepthM2)).toEqual(expected.areaAtDepth);
    expect(Array.from(m.alreadyCoveredM2)).toEqual(expected.alreadyCovered);
    expect(m.sumM2).toBe(expected.areaAtDepth.reduce((a, b) => a + b, 0));
    const o = outline(shapes, [1, 0, 0, 0]);
    expect(count(o.covered)).toEqual(expected.covered);
    expect(count(o.overlap)).toEqual(expected.overlap);
    expect(count(openGround(o.covered, [1, 1], 1e6).narrow).polygons).toBe(expected.gaps);
    expect(disagreements(list)).toEqual([]);
  });
});

describe('repairs are counted', () => {
  const repaired = (name: string): unknown => measure(toShapes(read(name).list), [1, 0, 0, 0]).repaired;
  const none = { reversed: 0, bowTie: 0, concave: 0, empty: 0 };
  it.each([
    ['shared-edges', none],
    ['reversed-quad', { ...none, reversed: 1 }],
    ['bow-tie', { ...none, bowTie: 1 }],
    ['concave-arrow', { ...none, concave: 1 }],
    ['shape-with-hole', { ...none, concave: 1 }],
    ['no-ground', { ...none, empty: 4 }],
  ])('%s', (name, expected) => {
    expect(repaired(name)).toEqual(expected);
  });
});
