/**
 * Maps drawn from the log of a real planting, with the layout that the planter has or with one that a display was wrongly set to.
 * Source of the log: "Data harvesting for agriculture", Carpentries Incubator, CC BY 4.0; see real-planting/README.md.
 */
import { readFileSync } from 'node:fs';
import type { Setting } from '../../src/core/index.ts';
import { collection, type Feature, featureOf, type Place } from './file.ts';
import { type Band, bandsOf, everyRow, type Frame, type Run } from './planter.ts';
import type { Shape } from './shapes.ts';

interface Position {
  x: number;
  y: number;
  /** Counterclockwise from east, radians. */
  h: number;
  pass: number;
  firstSection: number;
  sectionsOn: number;
}

const read = (name: string): number[][] =>
  readFileSync(new URL(`real-planting/${name}`, import.meta.url), 'utf8')
    .trim()
    .split('\n')
    .slice(1)
    .map((line) => line.split(',').map(Number));

const TRACK: readonly Position[] = read('track.csv').map(([x, y, deg, pass, firstSection, sectionsOn]) => ({
  x,
  y,
  h: ((90 - deg) * Math.PI) / 180,
  pass,
  firstSection,
  sectionsOn,
}));

/** A desert without fields. */
const PLACE: Place = { lat: 45.12, lon: 87.64, turnDeg: 0, stepDeg: 1e-8, scale: 1 };

const pairs = (rows: number, each = 2): Run[] =>
  Array.from({ length: Math.ceil(rows / each) }, (_, i) => ({
    first: i * each + 1,
    last: Math.min(rows, (i + 1) * each),
  }));
const frame = (rows: number, spacingIn: number, sections = pairs(rows)): Frame => ({
  rows,
  spacingM: spacingIn * 0.0254,
  planted: everyRow(rows),
  sections,
});

export const REAL_FRAME = frame(24, 30);
const REAL = bandsOf(REAL_FRAME) as Band[];

/** The planter as it is declared; with a second planting where that is what goes wrong. */
export function realPlanter(plantings: Record<string, string> = { 'every row': 'all' }): string {
  return JSON.stringify({
    name: 'Twenty-four rows',
    unit: 'in',
    rows: 24,
    rowSpacing: 30,
    plantings,
    sections: pairs(24).map((s) => `${s.first}-${s.last}`),
  });
}

export interface RealMap {
  name: string;
  /** What must be named first; null: nothing. */
  setting: Setting | null;
  /** What may be named beside it, for it leaves the same map in bars. */
  rivalsInBars: Setting[];
  planting: 'every row' | 'inner';
  planter: string;
  frameAt(pass: number): Frame;
  asideM: number;
  /** Sections that drop out in a pass, from 0. */
  off(pass: number): number[];
  halfTwice: boolean;
}

const asDriven: Omit<RealMap, 'name' | 'setting'> = {
  rivalsInBars: [],
  planting: 'every row',
  planter: realPlanter(),
  frameAt: () => REAL_FRAME,
  asideM: 0,
  off: () => [],
  halfTwice: false,
};
const drawnAs = (f: Frame, from = 1): { frameAt(pass: number): Frame } => ({
  frameAt: (pass) => (pass >= from ? f : REAL_FRAME),
});
const threes = Array.from({ length: 8 }, (_, i) => ({ first: 3 * i + 1, last: 3 * i + 3 }));

export const REAL_MAPS: readonly RealMap[] = [
  { ...asDriven, name: 'as driven', setting: null },
  { ...asDriven, name: 'two rows fewer', setting: 'frame-rows', ...drawnAs(frame(22, 30)) },
  { ...asDriven, name: 'two rows more', setting: 'frame-rows', ...drawnAs(frame(26, 30)) },
  {
    ...asDriven,
    name: 'rows 28 in apart',
    setting: 'row-spacing',
    rivalsInBars: ['frame-rows'],
    ...drawnAs(frame(24, 28)),
  },
  { ...asDriven, name: 'sections merged by twos', setting: 'sections-merged', ...drawnAs(frame(24, 30, pairs(24, 4))) },
  { ...asDriven, name: 'sections of three rows', setting: 'section-rows', ...drawnAs(frame(24, 30, threes)) },
  { ...asDriven, name: 'drawn 20 cm too far right', setting: 'side-offset', asideM: 0.2 },
  {
    ...asDriven,
    name: 'a middle section off on ten passes',
    setting: 'section-stuck-off',
    rivalsInBars: ['changed-midway'],
    off: (p) => (p >= 10 && p < 20 ? [5] : []),
  },
  {
    ...asDriven,
    name: 'the left section off on ten passes',
    setting: 'section-stuck-off',
    rivalsInBars: ['changed-midway'],
    off: (p) => (p >= 10 && p < 20 ? [0] : []),
  },
  { ...asDriven, name: 'two rows fewer from pass 15 on', setting: 'changed-midway', ...drawnAs(frame(22, 30), 15) },
  {
    ...asDriven,
    name: 'other sections from pass 15 on',
    setting: 'changed-midway',
    ...drawnAs(frame(24, 30, threes), 15),
  },
  { ...asDriven, name: 'half of it twice', setting: 'map-repeated', halfTwice: true },
  {
    ...asDriven,
    name: 'only the inner rows planted',
    setting: 'planted-rows',
    planting: 'inner',
    planter: realPlanter({ 'every row': 'all', inner: '2-23' }),
  },
];

export type RealForm = 'sections' | 'bars' | 'sections without columns';

/** Can this form of the map show the fault, or no more than that something is missing? Bars hold no sections, only widths and holes. */
export function shows(map: RealMap, form: RealForm): 'the setting' | 'a strip' | 'nothing' {
  if (map.setting === null) return 'nothing';
  if (form !== 'bars') return 'the setting';
  if (map.setting === 'section-stuck-off') return 'a strip';
  const sections =
    map.setting === 'sections-merged' || map.setting === 'section-rows' || map.name.startsWith('other sections');
  return sections ? 'nothing' : 'the setting';
}

/** Which sections of a display were on: those whose middle lay over what the planter had on; the outer ones go with the planter's own. */
function onIn(bands: readonly Band[], p: Position): number[] {
  const last = p.firstSection + p.sectionsOn - 1;
  const left = p.firstSection === 1 ? Number.NEGATIVE_INFINITY : REAL[p.firstSection - 1].left;
  const right = last === REAL.length ? Number.POSITIVE_INFINITY : REAL[last - 1].right;
  return bands.flatMap((b, k) => ((b.left + b.right) / 2 > left && (b.left + b.right) / 2 < right ? [k] : []));
}

function quad(a: Position, b: Position, left: number, right: number): [number, number][] {
  const put = (p: Position, c: number): [number, number] => [p.x + Math.sin(p.h) * c, p.y - Math.cos(p.h) * c];
  return [put(a, left), put(a, right), put(b, right), put(b, left)];
}

/** The map as GeoJSON. Two positions of one pass less than 7 m apart are an interval, and its state is that of the later one. */
export function drawReal(map: RealMap, form: RealForm): string {
  const layouts = new Map<Frame, Band[]>();
  const features: Feature[] = [];
  TRACK.forEach((b, i) => {
    const a = TRACK[i - 1];
    if (!a || a.pass !== b.pass || Math.hypot(b.x - a.x, b.y - a.y) >= 7) return;
    const f = map.frameAt(b.pass);
    const bands = layouts.get(f) ?? (bandsOf(f) as Band[]);
    layouts.set(f, bands);
    const on = onIn(bands, b).filter((k) => !map.off(b.pass).includes(k));
    const runs: number[][] = [];
    for (const k of on) {
      if (form === 'bars' && runs.length > 0 && runs[runs.length - 1].at(-1) === k - 1) runs[runs.length - 1].push(k);
      else runs.push([k]);
    }
    const heading = Number(((90 - (b.h * 180) / Math.PI + 360) % 360).toFixed(1));
    const ring = (run: number[]): [number, number][] =>
      quad(a, b, bands[run[0]].left + map.asideM, bands[run.at(-1)!].right + map.asideM);
    const put = (shape: Shape, section: number): void => {
      const columns =
        form === 'sections without columns' ? {} : form === 'bars' ? { heading } : { section: section + 1, heading };
      features.push(featureOf(shape, PLACE, columns));
    };
    if (form === 'bars' && runs.length > 0) put({ polygons: runs.map((r) => [ring(r)]), logs: [] }, 0);
    if (form !== 'bars') for (const run of runs) put({ polygons: [[ring(run)]], logs: [] }, run[0]);
  });
  return collection(map.halfTwice ? [...features, ...features.slice(0, features.length / 2)] : features);
}
