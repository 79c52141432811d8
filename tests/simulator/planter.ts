/**
 * Real planters, and what they cover. Common practice: row r of N at spacing s sits at (r - (N+1)/2)·s, + to the
 * right; a planted row covers ground to the middle toward its planted neighbors, an outer one as far out as in.
 */
import type { Random } from './random.ts';

export interface Run {
  first: number;
  last: number;
}

export interface Band {
  left: number;
  right: number;
}

/** What somebody takes a planter to be: the yard, or a display. */
export interface Frame {
  rows: number;
  spacingM: number;
  /** Rows that run, rising. */
  planted: number[];
  sections: Run[];
}

export interface Yard {
  unit: 'in' | 'cm';
  spacing: number;
  rows: number;
  plantings: { name: string; text: string; rows: number[] }[];
  sections: Run[];
  drives: Run[];
  planting: string;
  /** The file gives pass spacings. */
  withPassSpacing: boolean;
}

export const UNIT_M = { in: 0.0254, cm: 0.01 } as const;

/** Rows of frames on sale; every entry with the spacings at which such frames are 4 to 18.5 m wide. Common practice. */
const SPACINGS: readonly ['in' | 'cm', number][] = [
  ['in', 15],
  ['in', 20],
  ['in', 22],
  ['in', 30],
  ['in', 30],
  ['in', 36],
  ['cm', 37.5],
  ['cm', 45],
  ['cm', 50],
  ['cm', 75],
  ['cm', 75],
];
const ROWS = [6, 8, 8, 11, 12, 12, 13, 15, 15, 16, 16, 18, 23, 24, 24, 31, 32, 36];

const range = (first: number, last: number, step = 1): number[] =>
  Array.from({ length: Math.floor((last - first) / step) + 1 }, (_, i) => first + i * step);

export const everyRow = (rows: number): number[] => range(1, rows);
export const oddRows = (rows: number): number[] => range(1, rows, 2);
export const evenRows = (rows: number): number[] => range(2, rows, 2);

/** Bands of the sections, from the middle of the outer edges; null where a section has no planted row. */
export function bandsOf(frame: Frame): (Band | null)[] {
  const at = frame.planted.map((r) => (r - (frame.rows + 1) / 2) * frame.spacingM);
  const n = at.length;
  const edges = at.slice(1).map((x, i) => (x + at[i]) / 2);
  const left = n > 1 ? 2 * at[0] - edges[0] : at[0] - frame.spacingM / 2;
  const right = n > 1 ? 2 * at[n - 1] - edges[n - 2] : at[0] + frame.spacingM / 2;
  const all = [left, ...edges, right];
  const middle = (left + right) / 2;
  return frame.sections.map((s) => {
    const inside = frame.planted.map((r, i) => (r >= s.first && r <= s.last ? i : -1)).filter((i) => i >= 0);
    return inside.length === 0
      ? null
      : { left: all[inside[0]] - middle, right: all[inside[inside.length - 1] + 1] - middle };
  });
}

/** Bands of the sections by their physical rows, idle sections left out: the recording of a display that switches outputs and has no plantings. */
export function physicalBands(frame: Frame): (Band | null)[] {
  const middle = (frame.rows + 1) / 2;
  return frame.sections.map((s) =>
    frame.planted.some((r) => r >= s.first && r <= s.last)
      ? { left: (s.first - 0.5 - middle) * frame.spacingM, right: (s.last + 0.5 - middle) * frame.spacingM }
      : null,
  );
}

export function widthOf(bands: readonly (Band | null)[]): number {
  const there = bands.filter((b) => b !== null);
  return Math.max(...there.map((b) => b.right)) - Math.min(...there.map((b) => b.left));
}

/** Cuts a frame at the drive lines and then anywhere, so that every section has a row that runs in every planting. */
function cutSections(random: Random, rows: number, drives: readonly Run[], plantings: readonly number[][]): Run[] {
  const most = random.pick([2, 2, 3, 4, 6, 12]);
  const runsIn = (first: number, last: number): boolean =>
    plantings.every((p) => p.some((r) => r >= first && r <= last));
  const out: Run[] = [];
  // An odd frame has a section of one row that every planting runs; next to a drive line or the middle, as the trade does.
  const single = rows % 2 === 0 ? 0 : random.pick(everyRow(rows).filter((r) => plantings.every((p) => p.includes(r))));
  const cut = (first: number, last: number): void => {
    let at = first;
    while (at <= last) {
      let size = Math.min(random.int(1, most), last - at + 1);
      while (at + size - 1 < last && !runsIn(at, at + size - 1)) size++;
      const rest = last - (at + size - 1);
      if (rest > 0 && !runsIn(at + size, last)) size += rest;
      out.push({ first: at, last: at + size - 1 });
      at += size;
    }
  };
  for (const d of drives) {
    if (single < d.first || single > d.last) cut(d.first, d.last);
    else {
      const before = single > d.first && runsIn(d.first, single - 1);
      const after = single < d.last && runsIn(single + 1, d.last);
      if (before) cut(d.first, single - 1);
      const first = before || single === d.first ? single : d.first;
      const last = after || single === d.last ? single : d.last;
      out.push({ first, last });
      if (after) cut(single + 1, d.last);
    }
  }
  return out;
}

export function drawYard(random: Random, most: { sections: number; widthM: number }): Yard {
  for (;;) {
    const [unit, spacing] = random.pick(SPACINGS);
    const rows = random.pick(ROWS);
    const width = rows * spacing * UNIT_M[unit];
    if (width < 3.5 || width > most.widthM) continue;
    const plantings = [{ name: 'narrow', text: 'all', rows: everyRow(rows) }];
    // Rows this close are what a split frame is for.
    const split = spacing * UNIT_M[unit] < 0.52 && rows >= 11 && random.chance(0.6);
    if (split)
      plantings.push(
        rows % 2 === 0 && random.chance(0.5)
          ? { name: 'wide', text: 'even', rows: evenRows(rows) }
          : { name: 'wide', text: 'odd', rows: oddRows(rows) },
      );
    else plantings[0].name = random.pick(['every row', 'corn', 'narrow']);
    const driveCount = random.weighted([
      [1, 5],
      [2, 3],
      [3, 1],
      [4, 1],
    ]);
    const drives: Run[] = [];
    for (let d = 0, first = 1; d < driveCount; d++) {
      const last = d === driveCount - 1 ? rows : Math.round((rows * (d + 1)) / driveCount) - (rows % 2);
      if (last < first) continue;
      drives.push({ first, last });
      first = last + 1;
    }
    const whole = drives.length === 1 && rows % 2 === 0 && random.chance(0.12);
    const sections = whole
      ? [{ first: 1, last: rows }]
      : cutSections(
          random,
          rows,
          drives,
          plantings.map((p) => p.rows),
        );
    const oneRow = rows % 2 === 0 || sections.some((s) => s.first === s.last);
    const allRun = sections.every((s) => plantings.every((p) => p.rows.some((r) => r >= s.first && r <= s.last)));
    if (!oneRow || !allRun || sections.length > most.sections) continue;
    const planting = random.pick(plantings).name;
    return { unit, spacing, rows, plantings, sections, drives, planting, withPassSpacing: random.chance(0.6) };
  }
}

export function frameOf(yard: Yard, planting = yard.planting): Frame {
  const { rows, spacing, unit, sections } = yard;
  const planted = yard.plantings.find((p) => p.name === planting)!.rows;
  return { rows, spacingM: spacing * UNIT_M[unit], planted, sections };
}

const runText = (r: Run): string => (r.first === r.last ? `${r.first}` : `${r.first}-${r.last}`);

/** The planter file. `passSpacing` overrides what the working width gives, in meters. */
export function planterFile(yard: Yard, passSpacingM?: number): string {
  const perM = 1 / UNIT_M[yard.unit];
  const spacingOf = (name: string): number =>
    Number(((passSpacingM ?? widthOf(bandsOf(frameOf(yard, name)))) * perM).toFixed(3));
  return JSON.stringify(
    {
      name: `${yard.rows} rows at ${yard.spacing} ${yard.unit}`,
      unit: yard.unit,
      rows: yard.rows,
      rowSpacing: yard.spacing,
      plantings: Object.fromEntries(yard.plantings.map((p) => [p.name, p.text])),
      sections: yard.sections.map(runText),
      drives: yard.drives.map(runText),
      ...(yard.withPassSpacing || passSpacingM !== undefined
        ? { passSpacing: Object.fromEntries(yard.plantings.map((p) => [p.name, spacingOf(p.name)])) }
        : {}),
    },
    null,
    2,
  );
}
