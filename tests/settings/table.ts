import type { Setting } from '../../src/core/answer.ts';
import { proposeSections, readPlanter } from '../../src/core/planter/index.ts';
import type { Planter } from '../../src/core/planter/types.ts';
import { drawField } from '../generator/index.ts';
import { rowsOf } from '../generator/planters.ts';
import type { DrawnField, FieldSpec, Run } from '../generator/spec.ts';
import { entered, pairs } from './seeded.ts';

/** One fault for every setting of the diagnosis table, made for any frame. Frames and maps are invented. */
export interface Frame {
  unit: 'in' | 'cm';
  rows: number;
  spacing: number;
  spacingM: number;
  drives: Run[];
  sections: Run[];
}

export interface Fault {
  planting?: 'wide';
  /** Sections of the real and the declared planter, when they are not the proposed ones. */
  sections?: Run[];
  passSpacing?: Record<string, number>;
  spec: Partial<FieldSpec>;
  /** Meters that the map's coordinates are multiplied by. */
  scale?: number;
}

const FOOT_M = 0.3048;
const ORIGIN = { lat: 51.4, lon: 12.7 };
const STRIP: FieldSpec['shape'] = { kind: 'strip', lengthM: 100, passes: 6 };
const SLANTED: FieldSpec['shape'] = { kind: 'field', lengthM: 150, widthM: 80, headlandLaps: 2, pointRowsDeg: 26 };
const SQUARE: FieldSpec['shape'] = { kind: 'field', lengthM: 120, widthM: 80, headlandLaps: 1 };

export function frameOf(parity: 'odd' | 'even', unit: 'in' | 'cm', drives: number): Frame {
  const rows = parity === 'odd' ? 19 : 18;
  const spacing = unit === 'in' ? 15 : 40;
  const planter = readPlanter(
    JSON.stringify({ name: 'f', unit, rows, rowSpacing: spacing, plantings: { narrow: 'all', wide: 'odd' } }),
    'f.planter.json',
  );
  // Drives end with a pair of rows.
  const ends = [...Array.from({ length: drives - 1 }, (_, i) => 2 * Math.round((rows * (i + 1)) / drives / 2)), rows];
  const lines = ends.map((e, i): Run => [i === 0 ? 1 : ends[i - 1] + 1, e]);
  const proposed = proposeSections({ ...planter, drives: lines.map(([first, last]) => ({ first, last })) }, rows);
  if (!proposed.sections) throw new Error(`no sections for ${rows} rows`);
  return {
    unit,
    rows,
    spacing,
    spacingM: spacing * (unit === 'in' ? 0.0254 : 0.01),
    drives: lines,
    sections: proposed.sections.map((s): Run => [s.first, s.last]),
  };
}

const singles = (n: number): Run[] => Array.from({ length: n }, (_, i): Run => [i + 1, i + 1]);
const wideRows = (f: Frame): number => Math.ceil(f.rows / 2);
const inTwos = (list: Run[]): Run[] => list.flatMap((s, i): Run[] => (i % 2 ? [] : [[s[0], (list[i + 1] ?? s)[1]]]));

/** Null: the frame cannot show this setting; a comment gives the reason. */
export const TABLE: Record<Setting, (f: Frame) => Fault | null> = {
  // On an even frame both plantings are equally wide and lie on the same sections.
  'planted-rows': (f) =>
    f.rows % 2
      ? { spec: { belief: { planted: rowsOf(f.rows, 'odd') }, passSpacingM: 2 * wideRows(f) * f.spacingM } }
      : null,
  'frame-rows': (f) => ({
    spec: entered(
      f.rows - 2,
      f.spacingM,
      f.sections
        .slice(0, -1)
        .concat([[f.sections.at(-1)![0], f.rows - 2]])
        .filter(([a, b]) => b >= a),
    ),
  }),
  'row-spacing': (f) => ({
    spec: {
      belief: { rowSpacingM: f.unit === 'in' ? 14 * 0.0254 : 0.375 },
      passSpacingM: f.rows * (f.unit === 'in' ? 14 * 0.0254 : 0.375),
    },
  }),
  'frame-as-wide': (f) => ({ spec: entered(wideRows(f), 2 * f.spacingM, pairs(wideRows(f))) }),
  'section-rows': (f) => {
    const s = f.sections.map((r): Run => [...r]);
    s[2][1]++;
    s[3][0]++;
    return { spec: { belief: { sections: s } } };
  },
  'sections-merged': (f) => ({ spec: { belief: { sections: inTwos(f.sections) } } }),
  'section-idle': (f) => ({
    planting: 'wide',
    sections: singles(f.rows),
    spec: { belief: { sectionsBy: 'physical' } },
  }),
  // With one drive there is no line to cross.
  'section-across-drives': (f) => {
    if (f.drives.length === 1) return null;
    const line = f.drives[0][1];
    const i = f.sections.findIndex((s) => s[1] === line);
    const s = f.sections.map((r): Run => [...r]);
    s[i][1]++;
    s[i + 1][0]++;
    return { sections: s.filter(([a, b]) => b >= a), spec: { belief: { acrossDrives: 'missing' } } };
  },
  'section-order': () => ({ spec: { belief: { mirrored: true }, runInM: 10, shape: SLANTED } }),
  'pass-spacing': (f) => ({ spec: { passSpacingM: (f.rows + 1) * f.spacingM } }),
  'side-offset': () => ({ spec: { sideShiftM: 0.09 } }),
  'inline-offset': () => ({ spec: { shape: SQUARE, speedSpread: 0.25, belief: { offsetBackM: 4 } } }),
  'switch-delay': () => ({ spec: { shape: SQUARE, speedSpread: 0.25, belief: { onDelayS: 2, offDelayS: 2 } } }),
  'section-control-off': () => ({ spec: { sectionControl: false, runInM: 10, shape: SLANTED } }),
  'section-stuck-on': () => ({ spec: { belief: { stuckOn: 3 }, runInM: 10, shape: SLANTED } }),
  'section-stuck-off': () => ({ spec: { belief: { stuckOff: { section: 4, from: 2, to: 5 } } } }),
  'changed-midway': (f) => ({ spec: { change: { pass: 4, belief: { sections: inTwos(f.sections) } } } }),
  'map-repeated': () => ({ spec: { repeat: { first: 50, count: 400 } } }),
  'map-units': () => ({ spec: {}, scale: FOOT_M }),
  'declared-layout': (f) => ({ passSpacing: { narrow: (f.rows + 1) * f.spacing }, spec: {} }),
};

/** The map of `fault` on `f`; `over` changes how it is written and where it lies. */
export function drawTable(f: Frame, fault: Fault, over: Partial<FieldSpec> = {}): DrawnField {
  const wide = fault.planting === 'wide';
  const drawn = drawField({
    seed: 8,
    origin: ORIGIN,
    headingDeg: 63,
    truth: {
      rows: f.rows,
      rowSpacingM: f.spacingM,
      planted: rowsOf(f.rows, wide ? 'odd' : 'all'),
      sections: fault.sections ?? f.sections,
      drives: f.drives,
    },
    passSpacingM: (wide ? 2 * wideRows(f) : f.rows) * f.spacingM,
    shape: STRIP,
    noise: { wanderM: 0.012, passBiasM: 0.006 },
    sectionControl: true,
    columns: { time: { name: 'when', as: 'iso' }, section: { name: 'unit' } },
    ...fault.spec,
    ...over,
  });
  const { lon, lat } = over.origin ?? ORIGIN;
  const scale = fault.scale ?? 1;
  return scale === 1 ? drawn : moved(drawn, ([x, y]) => [lon + (x - lon) * scale, lat + (y - lat) * scale]);
}

/** The same map with every corner put elsewhere. */
export function moved(drawn: DrawnField, to: (p: number[]) => number[]): DrawnField {
  const ring = (r: number[][]): number[][] => r.map((p) => to(p).map((v) => Number(v.toFixed(8))));
  for (const { geometry } of drawn.features.features)
    if (geometry.type === 'Polygon') geometry.coordinates = geometry.coordinates.map(ring);
  return drawn;
}

/** The planter file of `f` as `fault` declares it; `mirrored` counts its rows from the other end. */
export function planterOfTable(f: Frame, fault: Fault, mirrored = false): Planter {
  const turned = (list: Run[]): Run[] =>
    mirrored ? list.map(([a, b]): Run => [f.rows + 1 - b, f.rows + 1 - a]).reverse() : list;
  const text = ([a, b]: Run): string => (a === b ? `${a}` : `${a}-${b}`);
  const file = {
    name: 'Frame of the table',
    unit: f.unit,
    rows: f.rows,
    rowSpacing: f.spacing,
    plantings: { narrow: 'all', wide: mirrored && f.rows % 2 === 0 ? 'even' : 'odd' },
    sections: turned(fault.sections ?? f.sections).map(text),
    drives: turned(f.drives).map(text),
    ...(fault.passSpacing ? { passSpacing: fault.passSpacing } : {}),
  };
  return readPlanter(JSON.stringify(file), 'table.planter.json');
}
