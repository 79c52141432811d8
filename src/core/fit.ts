import type { Grain } from './answer.ts';
import type { CheckInput, Hooks } from './check.ts';
import type { Lattice } from './geometry/shapes.ts';
import { believe, eitherSide, findStretches, type LayoutFits, mirrorBands, sideOf } from './infer/index.ts';
import type { RecordSet } from './intake/types.ts';
import { nearest, UserError } from './messages.ts';
import {
  estimateSeams,
  findBands,
  findKinds,
  findSeams,
  type RecordedBands,
  type Seam,
  type SeamEstimates,
  type Segment,
  seamSides,
} from './observe/index.ts';
import { extentOf, finerLattice, type Plane, planeFor } from './plane/index.ts';
import { findRows, type PlantedRows } from './planted/index.ts';
import { layoutOf, listWords, plantingOf } from './planter/index.ts';
import type { PlantedLayout, Planter, Planting } from './planter/types.ts';
import { type Columns, findColumns } from './track/columns/index.ts';
import { findPasses, type Laid, layLanes } from './track/index.ts';
import { findOrigins, type Origins, partByWidths, partPasses } from './track/origins.ts';
import type { Lanes, Passes } from './track/types.ts';

/** Pass-to-pass accuracy of the positioning when the user says nothing, metres. */
export const DEFAULT_ACCURACY_M = 0.025;

/** A planter that worked in the field; `machine` names it as the map does, and only the passes of that machine are judged against it. */
export interface DeclaredPlanter {
  planter: Planter;
  machine?: string;
}

/** What the records are, before anything is compared with a planter. */
export interface Track {
  plane: Plane;
  fine: Lattice;
  laid: Laid;
  columns: Columns;
  /** Every pass of the map. */
  passes: Passes;
  origins: Origins;
}

/** The passes of one machine, the planter that they are judged against, and what the display that wrote them believed. */
export interface Fitted extends Track {
  /** The machine by name, and its field or days where it has several. */
  name: string;
  of: Omit<Part, 'passes'>;
  planter: Planter;
  /** Why these passes are judged against this planter; empty where there is no choice. */
  why: string;
  /** Nobody said what was planted, and the planter has several plantings. */
  plantingFound: boolean;
  bands: RecordedBands;
  grain: Grain;
  /** Sections can be seen in the records, and are declared. */
  bySections: boolean;
  fit: LayoutFits;
  planting: Planting;
  layout: PlantedLayout;
  /** Per segment of the bands, metres right of the frame centre. */
  believedCentreM: number[];
  rows: PlantedRows;
  seams: Seam[];
}

type FitInput = Omit<CheckInput, 'map' | 'boundary'>;

/**
 * The first half of the pipeline: passes, columns, machines, and for each machine its planter, layout and the rows that planted. Fields that lie
 * apart, and days on which different rows planted, are judged by themselves like machines. Passes keep the numbers that they have in the whole map.
 */
export function fitMap(records: RecordSet, input: FitInput, hooks: Hooks = {}): Fitted[] {
  const at = (stage: string) => (done: number) => hooks.progress?.(stage, done);
  const track = trackOf(records, input, hooks);
  at('fitting the layout')(0);
  const declared = input.planters ?? [{ planter: input.planter }];
  checkNames(declared, input.plantings ?? {}, track.origins, records.source);
  return partsOf(track, declared).flatMap((part) => {
    const own = declared.filter((d) => part.machine.some((m) => isCalled(m, d.machine)));
    const free = own.length > 0 ? own : declared.filter((d) => d.machine === undefined);
    if (free.length === 0)
      throw new UserError(
        'planter-missing',
        `The map has passes of the machine "${part.machine[0]}", for which no planter is given.`,
        { file: records.source },
        `Add "--planter ${part.machine[0]}=FILE", or leave its records out with "--where".`,
      );
    const fits = free.map(({ planter }) => fitPart(track, part, planter, wantedOf(planter, part, input), input));
    const best = fits.reduce((a, b) => (weightOf(b.fit) > weightOf(a.fit) ? b : a));
    if (free.length > 1) best.why = `of ${free.length} planters it fits the widths and sections of these passes best`;
    else if (own.length > 0) best.why = 'named for this machine';
    return byDays(track, part, best, input);
  });
}

/** Days on which other rows planted are judged by themselves: as the user says, or as each day's own bands fit one planting or another. */
function byDays(track: Track, part: Part, whole: Fitted, input: FitInput): Fitted[] {
  const { day, dayMs } = track.origins;
  const { passes, planter, why } = whole;
  const days = [...new Set(Array.from(passes.number, (n) => day[n - 1]))].sort((a, b) => a - b);
  if (days.length < 2 || planter.plantings.length < 2) return [whole];
  const dates = days.map((d) => dateOf(dayMs[d]));
  const fitDays = (of: readonly number[], label: string): Fitted => {
    const own: Part = {
      ...part,
      label: part.label === '' ? label : `${part.label}, ${label}`,
      days: of.map((d) => dates[days.indexOf(d)]),
      passes: partPasses(passes, (p) => of.includes(day[passes.number[p] - 1])),
      whole: false,
    };
    return { ...fitPart(track, own, planter, wantedOf(planter, own, input), input), why };
  };
  const named = dates.map((date) => (date === '' ? undefined : input.plantings?.[date]));
  const single = days.map((d, i) => (whole.plantingFound || named[i] !== undefined ? fitDays([d], dates[i]) : whole));
  // A day whose bands fit no planting as declared tells nothing about what was planted.
  const planted = single.map((f, i) => named[i] ?? (f.fit.declared >= 0.5 ? f.planting.name : null));
  const kinds = [...new Set(planted)].filter((name) => name !== null);
  const twins = new Set(whole.fit.twins);
  if (
    kinds.length < 2 ||
    (named.every((n) => n === undefined) && kinds.every((k) => k === whole.planting.name || twins.has(k)))
  )
    return [whole];
  const groups = new Map<string, number[]>();
  planted.forEach((name, i) => {
    const key = name ?? kinds[0];
    groups.set(key, [...(groups.get(key) ?? []), days[i]]);
  });
  return [...groups.values()].map((of) =>
    fitDays(of, of.map((d) => dates[days.indexOf(d)] || `day ${d + 1}`).join(', ')),
  );
}

/** The date of a moment, as the user writes it; empty where it is not known. */
const dateOf = (ms: number): string => (Number.isNaN(ms) ? '' : new Date(ms).toISOString().slice(0, 10));

/** The same part judged as if `planting` had been planted. */
export function refit(part: Fitted, planting: Planting, input: FitInput): Fitted {
  const own = { ...part.of, passes: part.passes };
  return { ...fitPart(part, own, part.planter, [planting], input), why: part.why, plantingFound: true };
}

function trackOf(records: RecordSet, input: FitInput, hooks: Hooks): Track {
  const at = (stage: string) => (done: number) => hooks.progress?.(stage, done);
  const { shapes, lattice } = records;
  const extent = extentOf(shapes);
  const plane = planeFor(lattice, extent);
  const fine = finerLattice(lattice, extent);
  at('finding passes')(0);
  const laid = layLanes(shapes, plane, fine, records.columns);
  at('finding passes')(0.6);
  const choices = {
    ...(input.columns ? { columns: input.columns } : {}),
    ...(input.dates ? { dates: input.dates } : {}),
    source: records.source,
  };
  const columns = findColumns(records.columns, laid.lanes, choices, records.recordNumber);
  const passes = findPasses(laid.lanes, columns);
  const origins = findOrigins(passes, columns);
  at('finding passes')(1);
  return { plane, fine, laid, columns, passes, origins };
}

/** Passes that are judged together. */
export interface Part {
  /** Names of the machine: the one that it is called by, and others that mean it. */
  machine: string[];
  /** What parts it from other passes of the same machine: a field, days; empty for nothing. */
  label: string;
  /** Dates on which it was at work, where days are judged by themselves. */
  days: string[];
  passes: Passes;
  /** All passes of the map. */
  whole: boolean;
}

/**
 * One part for each machine in each field; where nothing tells machines apart and several planters are declared, one for each of their widths.
 */
function partsOf({ passes, origins }: Track, declared: readonly DeclaredPlanter[]): Part[] {
  const { fields, field } = origins;
  const [names, of] = machinesOf(passes, origins, declared);
  const parts: Part[] = [];
  for (let m = 0; m < names.length; m++)
    for (let f = 0; f < fields; f++) {
      const isOwn = (p: number): boolean => of[p] === m && field[p] === f;
      const label = fields > 1 ? `field ${f + 1}` : '';
      if (!of.some((_, p) => isOwn(p))) continue;
      parts.push({ machine: [names[m]], label, days: [], passes: partPasses(passes, isOwn), whole: false });
    }
  if (parts.length > 1) return parts;
  return [{ machine: parts[0]?.machine ?? [names[0]], label: '', days: [], passes, whole: true }];
}

function machinesOf(
  passes: Passes,
  { machines, machine }: Origins,
  declared: readonly DeclaredPlanter[],
): [names: string[], of: Uint16Array] {
  if (machines.length > 1 || declared.length < 2) return [machines, machine];
  const widths = declared.map(({ planter }) => planter.plantings.map((p) => layoutOf(planter, p.name).workingWidthM));
  return [declared.map((d, i) => d.machine ?? `machine ${i + 1}`), partByWidths(passes, widths)];
}

const isCalled = (machine: string, name: string | undefined): boolean =>
  name !== undefined && name.toLowerCase() === machine.toLowerCase();

/** A machine or a day that the user names must be in the map; where the map names no machine, a name cannot be of use. */
function checkNames(
  declared: readonly DeclaredPlanter[],
  plantings: Readonly<Record<string, string>>,
  { machines, from, dayMs }: Origins,
  file: string,
): void {
  const dates = dayMs.map(dateOf).filter((d) => d !== '');
  const planters = declared.flatMap((d) => d.machine ?? []);
  // Told apart by their widths, the planters' own names are the machines'.
  const own = from === 'one' && declared.length > 1 && planters.length === declared.length;
  const known = own ? planters : machines;
  const wrong = [
    ...planters.filter((name) => !known.some((m) => isCalled(m, name))),
    ...Object.keys(plantings).filter((name) => !known.some((m) => isCalled(m, name)) && !dates.includes(name)),
  ][0];
  if (wrong === undefined) return;
  if (/^\d{4}-\d\d-\d\d$/.test(wrong))
    throw new UserError(
      'planting-day',
      `The map has no day "${wrong}".`,
      { file },
      dates.length > 0 ? `Its days begin on ${listWords(dates)}.` : 'It has no dates.',
    );
  const near = nearest(wrong, machines);
  throw new UserError(
    'planter-machine',
    `The map has no machine "${wrong}".`,
    { file },
    from === 'one'
      ? 'Name the column that tells the machines apart with "--columns machine=NAME", or give the planter without a machine.'
      : `${near ? `Did you mean "${near}"? ` : ''}Its machines are ${listWords(machines.map((m) => `"${m}"`))}.`,
  );
}

/** The plantings to try for a machine. */
function wantedOf(planter: Planter, { machine, days }: Part, input: FitInput): Planting[] {
  const named = Object.entries(input.plantings ?? {});
  const own = (named.find(([name]) => days.includes(name)) ??
    named.find(([name]) => machine.some((m) => isCalled(m, name))))?.[1];
  if (own !== undefined) return [plantingOf(planter, own)];
  const { planting } = input;
  // With several planters a planting is that of those who have it.
  const has = planting !== undefined && (!input.planters || planter.plantings.some((p) => p.name === planting));
  return has ? [plantingOf(planter, planting)] : planter.plantings;
}

/** The column whose values part the fields, with the value of each field; null where there is none. */
export function fieldColumn(
  { columns }: RecordSet,
  parts: readonly Pick<Track, 'passes' | 'origins'>[],
): { name: string; values: string[] } | null {
  for (const c of columns) {
    const { fields } = parts[0].origins;
    const seen: (number | undefined)[] = new Array(fields).fill(undefined);
    let fits = true;
    for (const { passes, origins } of parts)
      for (let p = 0; p + 1 < passes.passStart.length && fits; p++) {
        const field = origins.field[passes.number[p] - 1];
        for (let b = passes.passStart[p]; b < passes.passStart[p + 1] && fits; b++) {
          const r = passes.quads.record[passes.barQuad[passes.barStart[b]]];
          const v = c.kind === 'number' ? c.values[r] : c.codes[r];
          seen[field] ??= v;
          fits = seen[field] === v && (c.kind === 'number' ? !Number.isNaN(v) : v > 0);
        }
      }
    if (!fits || new Set(seen).size < fields) continue;
    return { name: c.name, values: seen.map((v) => (c.kind === 'number' ? String(v) : c.words[v as number])) };
  }
  return null;
}

/** Where no planting fits as declared, the one that the display had chosen explains the map with the fewest faults. */
const weightOf = (f: LayoutFits): number => f.declared + f.chosen;
const bestOf = (list: readonly LayoutFits[]): LayoutFits => list.reduce((a, b) => (weightOf(b) > weightOf(a) ? b : a));

/** Two sections meet when the strip between them is narrower: rounding opens a few centimetres, and no row is so narrow; metres. */
const MEETS_M = 0.05;

/**
 * True when the records are sections: whole bars of one of the layouts hold two that meet. The parts of a bar that was drawn as a whole are
 * what is left between sections that were off, and never meet; where a layout is nothing but such parts, it must be that of most bars.
 */
function holdsSections({ segments }: RecordedBands): boolean {
  const meets = (e: Segment): boolean => e.bands.some((b, i) => i > 0 && b.leftM - e.bands[i - 1].rightM < MEETS_M);
  const bars = (e: Segment): number => (e.bands.length > 1 ? e.fullBars : -e.fullBars);
  return segments.some(meets) || segments.reduce((n, e) => n + bars(e), 0) > 0;
}

/** The seams between passes that lie in one segment. */
function seamsWithin(passes: Passes, all: readonly Seam[], e: Segment, accuracyM: number): SeamEstimates {
  const inside = (pass: number): boolean => passes.passStart[pass] >= e.from && passes.passStart[pass + 1] <= e.to;
  const seams = all.filter((s) => inside(s.passA) && inside(s.passB));
  const recordedM = seams.map((s) => s.recordedM);
  const told = passes.travelFrom !== 'unknown';
  const out = estimateSeams(seams, recordedM, accuracyM, seamSides(seams, recordedM, accuracyM, told));
  // Without the direction of travel nobody knows which of two kinds of seams is which.
  return told ? out : { ...out, alternating: null };
}

/** The recorded bands of every segment of the passes. */
function bandsOf(passes: Passes, lanes: Lanes, stepM: number): RecordedBands {
  const kinds = findKinds(passes, stepM);
  return findBands(passes, lanes, stepM, kinds, findStretches(passes, kinds));
}

function fitPart(track: Track, part: Part, planter: Planter, wanted: readonly Planting[], input: FitInput): Fitted {
  const { laid, columns, plane } = track;
  const stepM = 1 / Math.min(...plane.stepsPerMetre);
  let { passes } = part;
  let bands = bandsOf(passes, laid.lanes, stepM);
  const seesSections = holdsSections(bands);
  const grain: Grain = laid.grain !== 'interval' ? laid.grain : seesSections ? 'section' : 'bar';
  // Without declared sections there is nothing to hold the recorded ones against: the width alone is fitted.
  const bySections = seesSections && planter.sectionsDeclared;
  const accuracyM = input.passAccuracyM ?? DEFAULT_ACCURACY_M;
  let seams = findSeams(passes, bands);
  const tryAll = (b: RecordedBands): LayoutFits[] => {
    const estimates = b.segments.map((e) => seamsWithin(passes, seams, e, accuracyM));
    return wanted.map((p) => believe(b, planter, p.name, bySections, estimates));
  };
  let fit = bestOf(tryAll(bands));
  if (passes.travelFrom === 'unknown' && bySections) {
    // Nothing tells left from right: the passes are read from both sides, and laid out from the one that makes more sense.
    const turned = bestOf(tryAll(mirrorBands(bands)));
    const p = sideOf(fit, turned);
    if (p > 0.5) {
      const numbers = new Set(passes.number);
      const all = findPasses(laid.lanes, columns, true);
      passes = part.whole ? all : partPasses(all, (k) => numbers.has(all.number[k]));
      bands = bandsOf(passes, laid.lanes, stepM);
      seams = findSeams(passes, bands);
    }
    fit = p > 0.5 ? eitherSide(turned, fit, 1 - p) : eitherSide(fit, turned, p);
  }
  const planting = planter.plantings.find((p) => p.name === fit.planting)!;
  const layout = layoutOf(planter, planting.name);
  const believedCentreM = fit.fits.map((f) => f.ranked[0]?.hypothesis.centreM ?? layout.centreM);
  return {
    ...track,
    name: part.label === '' ? part.machine[0] : `${part.machine[0]}, ${part.label}`,
    of: { machine: part.machine, label: part.label, days: part.days, whole: part.whole },
    planter,
    why: '',
    plantingFound: wanted.length > 1,
    passes,
    bands,
    grain,
    bySections,
    fit,
    planting,
    layout,
    believedCentreM,
    rows: findRows(passes, bands, layout, believedCentreM),
    seams,
  };
}
