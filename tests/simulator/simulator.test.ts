/** The simulator compared with arithmetic of the trade and with GEOS: what it draws must be right before anything is judged by it. */
import { mkdtempSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { closeByGeos } from '../outside/closing.ts';
import { type Display, rightDisplay } from './display.ts';
import { type Convex, lineThrough } from './field.ts';
import { collection, featureOf, type Place } from './file.ts';
import { Ground } from './ground.ts';
import { KINDS, SETTINGS, simulate } from './index.ts';
import { bandsOf, evenRows, everyRow, oddRows, widthOf, type Yard } from './planter.ts';
import { Random } from './random.ts';
import { drawShapes } from './shapes.ts';
import { type Log, type Logger, logging, motion, type Steering, switching } from './work.ts';

const IN = 0.0254;
const FT = 0.3048;

function yardOf(rows: number, sections: number, spacing = 30): Yard {
  const each = rows / sections;
  return {
    unit: 'in',
    spacing,
    rows,
    plantings: [{ name: 'all', text: 'all', rows: everyRow(rows) }],
    sections: Array.from({ length: sections }, (_, i) => ({ first: i * each + 1, last: (i + 1) * each })),
    drives: [{ first: 1, last: rows }],
    planting: 'all',
    withPassSpacing: false,
  };
}

const EXACT: Steering = { biasM: 0, wanderM: 0, cruiseMs: 2, speedSpread: 1, endMs: 2, stops: 0, restarts: false };
const SHARED = { shared: true, headingDeg: 0, extra: 0, repeated: false };
const PLACE: Place = { lat: 44.1, lon: 83.4, turnDeg: 0, stepDeg: 1e-9, scale: 1 };

/** A pass along x from -40 to 140, over ground that is to be planted inside the region; planted or covered elsewhere. */
function drive(
  display: Display,
  region: Convex | null,
  logger: Logger,
  speedMs = 2,
  forward = true,
): { logs: Log[]; doubledM2: number } {
  const line = lineThrough(
    forward
      ? [
          [-40, 0],
          [140, 0],
        ]
      : [
          [140, 0],
          [-40, 0],
        ],
    'pass',
  );
  const m = motion(new Random(1), line, { ...EXACT, cruiseMs: speedMs, endMs: speedMs }, 0);
  const ground = new Ground(-60, -60, 160, 60);
  const states = switching(new Random(2), m, () => display, { ground, region, waterway: null, travelledM: 10 });
  return { logs: logging(new Random(3), 0, m.steps, states, logger, 0), doubledM2: states.doubledM2 };
}

const BOX: Convex = [
  [0, -30],
  [100, -30],
  [100, 30],
  [0, 30],
];
const CUT: Logger = { by: 'distance', every: 2, state: 'cut' };
const endsOf = (logs: readonly Log[]): [number, number] => [
  Math.min(...logs.map((l) => l.from.x)),
  Math.max(...logs.map((l) => l.to.x)),
];

// Common practice: width = rows that plant × the gap between them. The odd frames are those of the trade's split rows.
test.each([
  [15, 15, everyRow(15), 225],
  [15, 15, oddRows(15), 240],
  [23, 15, everyRow(23), 345],
  [23, 15, oddRows(23), 360],
  [31, 15, everyRow(31), 465],
  [31, 15, oddRows(31), 480],
  [24, 15, evenRows(24), 360],
  [32, 15, oddRows(32), 480],
  [16, 22, everyRow(16), 352],
])('%i rows at %i in: width', (rows, spacing, planted, inches) => {
  const frame = { rows, spacingM: spacing * IN, planted, sections: [{ first: 1, last: rows }] };
  expect(widthOf(bandsOf(frame)) / IN).toBeCloseTo(inches, 9);
});

test('a pass of 12 rows at 30 in covers 30 ft × its length, by GEOS', () => {
  const display = rightDisplay(yardOf(12, 6), true, 0, 0.5);
  const { logs } = drive(display, BOX, CUT);
  const shapes = drawShapes(new Random(1), logs, 'section', SHARED, 0);
  const path = join(mkdtempSync(join(tmpdir(), 'guessrow-')), 'pass.geojson');
  writeFileSync(path, collection(shapes.map((s) => featureOf(s, PLACE, {}))));
  const [west, east] = endsOf(logs);
  const { coveredM2 } = closeByGeos([{ map: path, widthM: 9, noiseM: 0.1 }])[0];
  expect(coveredM2 / (30 * FT * (east - west))).toBeCloseTo(1, 4);
  expect(east - west).toBeGreaterThan(99);
  expect(east - west).toBeLessThan(101);
});

// Plane geometry: with no skip, a slanted end is overlapped by W² cot(angle) / 2k with k sections.
test.each([
  [1, 450],
  [6, 75],
  [12, 37.5],
])('30 ft into a 45 degree edge, %i sections: %f ft² beyond it', (sections, squareFeet) => {
  const slanted: Convex = [
    [0, -30],
    [70, -30],
    [130, 30],
    [0, 30],
  ];
  const { logs } = drive(rightDisplay(yardOf(12, sections), true, 0, 1e-6), slanted, CUT);
  // Beyond the edge x = 100 + y, for each section a triangle and a strip: integrated in thin slices across.
  let area = 0;
  for (let s = 0; s < sections; s++) {
    const last = Math.max(...logs.filter((l) => l.section === s).map((l) => l.to.x));
    const { left, right } = logs[0].display.bands[s]!;
    for (let i = 0; i < 200; i++) {
      const y = -(left + ((right - left) * (i + 0.5)) / 200);
      area += (Math.max(0, last - (100 + y)) * (right - left)) / 200;
    }
  }
  // A display looks at a few points of a section every tenth of a second: 0.2 m of travel, and a seventh of the section.
  const slack = 30 * FT * 0.25 + (squareFeet * FT ** 2) / 4;
  expect(Math.abs(area - squareFeet * FT ** 2)).toBeLessThan(slack);
});

describe('ends', () => {
  const mph = 0.44704;
  const ends = (display: Display, logger = CUT, speed = 5 * mph) => endsOf(drive(display, BOX, logger, speed).logs);
  const right = rightDisplay(yardOf(12, 6), true, 0, 0.5);

  // Arithmetic: 5 mph for 1.0 s are 7.3333 ft.
  test('a delay of a second at 5 mph: 7.33 ft late at both ends', () => {
    const [a, b] = ends(right);
    const [c, d] = ends({ ...right, delayS: 1 });
    expect(Math.abs((c - a) / FT - 22 / 3)).toBeLessThan(0.8);
    expect(Math.abs((d - b) / FT - 22 / 3)).toBeLessThan(0.8);
  });

  test('looking half a second ahead at 2 m/s: a meter early at both ends', () => {
    const [a, b] = ends(right, CUT, 2);
    const [c, d] = ends({ ...right, lookAheadS: 0.5 }, CUT, 2);
    expect(Math.abs(a - c - 1)).toBeLessThan(0.25);
    expect(Math.abs(b - d - 1)).toBeLessThan(0.25);
  });

  test('a state taken at the beginning of an interval is late by less than one, at its end early by less than one', () => {
    const [a, b] = ends(right, CUT, 2);
    const late = ends(right, { by: 'distance', every: 3, state: 'beginning' }, 2);
    const early = ends(right, { by: 'distance', every: 3, state: 'end' }, 2);
    for (const [cut, sampled, sign] of [
      [a, late[0], 1],
      [b, late[1], 1],
      [a, early[0], -1],
      [b, early[1], -1],
    ]) {
      expect((sampled - cut) * sign).toBeGreaterThan(-0.25);
      expect((sampled - cut) * sign).toBeLessThan(3.25);
    }
  });
});

// Arithmetic on 16 rows at 30 in steered 480 in apart: 2 in aside gives gaps of 26, 34, 26 in when driven to and fro, 30 in when not.
test.each([
  ['to and fro', [true, false, true, false], [26, 34, 26]],
  ['one way', [true, true, true, true], [30, 30, 30]],
])('guess rows of a planter drawn 2 in aside, %s', (_, ways, inches) => {
  const display = { ...rightDisplay(yardOf(16, 8), true, 0, 0.5), asideM: 2 * IN };
  const edges = (ways as boolean[]).map((forward, k) => {
    const shapes = drawShapes(new Random(1), drive(display, BOX, CUT, 2, forward).logs, 'section', SHARED, 0);
    const ys = shapes.flatMap((s) => s.polygons.flat(2).map((p) => p[1] - k * 480 * IN));
    return [Math.max(...ys), Math.min(...ys)];
  });
  const gaps = edges.slice(1).map(([top], k) => (edges[k][1] - top) / IN + 30);
  gaps.forEach((g, k) => {
    expect(g).toBeCloseTo((inches as number[])[k], 6);
  });
});

test('the same seed gives the same map; every kind and every setting can be drawn', () => {
  expect(simulate(11).map).toBe(simulate(11).map);
  KINDS.forEach((kind, i) => {
    const map = simulate(500 + i, { kind, settings: [] });
    expect(map.kind).toBe(kind);
    expect(map.records).toBeGreaterThan(3);
    expect(map.records).toBeLessThanOrEqual(6000);
    expect(JSON.parse(map.map).features).toHaveLength(map.records);
  });
  for (const setting of SETTINGS)
    expect(simulate(900, { kind: 'sections, cut together', settings: [setting] }).faults.map((f) => f.setting)).toEqual(
      [setting],
    );
});
