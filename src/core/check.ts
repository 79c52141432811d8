import { type Limits as CauseLimits, compareWidths, makeAccount, verdictOf } from './account/index.ts';
import type { Answer, Grain, Report } from './answer.ts';
import { type Coverage, type CoverageRings, cover, outline, type Polygons } from './coverage/index.ts';
import { outsideOf, ringsOf } from './fence.ts';
import { joinShapes, type Lattice } from './geometry/shapes.ts';
import { median } from './geometry/stats.ts';
import { findGaps, findOverlaps, type Ground, type GroundFacts, recordedQuads } from './ground/index.ts';
import {
  believe,
  diagnose,
  eitherSide,
  type Facts,
  findStretches,
  framesOfWidth,
  type LayoutFits,
  mirrorBands,
  seamToleranceM,
  sideOf,
} from './infer/index.ts';
import { type Limits, type ReadOptions, read, type Where } from './intake/index.ts';
import type { NamedBytes, RecordSet } from './intake/types.ts';
import { UserError } from './messages.ts';
import {
  estimateSeams,
  findBands,
  findCovered,
  findEnds,
  findKinds,
  findSeams,
  findStates,
  plantedSeams,
  type RecordedBands,
  type Seam,
  type SeamEstimates,
  type Segment,
  seamSides,
  seamStretches,
} from './observe/index.ts';
import { extentOf, finerLattice, type Plane, planeFor, scaleExtent } from './plane/index.ts';
import { findRows, layPlanted, type Planted, type PlantedRows } from './planted/index.ts';
import { layoutOf, planterNotes, plantingOf, ruleBreaks } from './planter/index.ts';
import type { PlantedLayout, Planter, Planting } from './planter/types.ts';
import { summariseAnswer } from './summary.ts';
import { type Columns, type DateOrder, findColumns } from './track/columns/index.ts';
import { findPasses, findUnplaced, type Laid, layLanes } from './track/index.ts';
import type { Lanes, Passes } from './track/types.ts';

export { DEFAULT_LIMITS, LIMIT_NAMES, type Limits, parseWhere, type Where } from './intake/index.ts';
export type { DateOrder } from './track/columns/index.ts';

export interface CheckInput {
  /** The map: a GeoJSON, a zipped shapefile, or the loose parts of one shapefile. */
  map: NamedBytes[];
  planter: Planter;
  /** Left out: each planting is tried and the report says which one the map fits. */
  planting?: string;
  boundary?: NamedBytes[];
  /** Column names per role, as the user gave them. */
  columns?: Partial<Record<string, string>>;
  /** Order of day and month in dates that can be read either way; left out, such dates are not used. */
  dates?: DateOrder;
  layer?: string;
  /** Records of the map to keep, such as those of one field or machine; all when left out. */
  where?: readonly Where[];
  /** Coordinate system of a map that does not name its own, such as "EPSG:32615". */
  crs?: string;
  /** What the reading takes on at most, where it differs from the usual; for map and boundary alike. */
  limits?: Partial<Limits>;
  /** Pass-to-pass accuracy of the positioning, metres; 0.025 when left out. */
  passAccuracyM?: number;
  /** Price of the seed for a hectare planted once, in the user's money. */
  seedCostPerHa?: number;
}

export interface Hooks {
  /** Called with the stage in a user's words and how much of it is done, 0 to 1; may throw to stop the check. */
  progress?(stage: string, done: number): void;
}

/** Pass-to-pass accuracy of the positioning when the user says nothing, metres. */
export const DEFAULT_ACCURACY_M = 0.025;

/** The whole pipeline. Throws `UserError` when the input cannot be worked with. */
export async function check(input: CheckInput, hooks: Hooks = {}): Promise<Answer> {
  plantingsOf(input);
  const records = await read(input.map, readOptions(input), (done) => hooks.progress?.('reading the map', done));
  const boundary = input.boundary ? await readBoundary(input.boundary, input.limits ?? {}) : null;
  return checkRecords(records, input, hooks, boundary);
}

/** Strips narrower than this, or than twice the pass-to-pass accuracy, are positioning noise, metres. */
const LEAST_STRIP_M = 0.05;

/** Two sections meet when the strip between them is narrower: rounding opens a few centimetres, and no row is so narrow; metres. */
const MEETS_M = 0.05;

/** Two widths closer than this are one in a map of rounded corners, metres. */
const LEAST_TOLD_M = 0.012;

/** What the map is made of, and what the display that wrote it believed. */
export interface Fitted {
  plane: Plane;
  fine: Lattice;
  laid: Laid;
  columns: Columns;
  passes: Passes;
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

/** The first half of the pipeline: passes, columns, layout, and the rows that planted. `known` is what it gave for another planting of this map. */
export function fitMap(
  records: RecordSet,
  input: Omit<CheckInput, 'map' | 'boundary'>,
  hooks: Hooks = {},
  known?: Fitted,
): Fitted {
  const at = (stage: string) => (done: number) => hooks.progress?.(stage, done);
  const { planter } = input;
  const wanted = plantingsOf(input);
  const { shapes, lattice } = records;
  const extent = extentOf(shapes);
  const plane = known?.plane ?? planeFor(lattice, extent);
  const fine = known?.fine ?? finerLattice(lattice, extent);

  at('finding passes')(0);
  const laid = known?.laid ?? layLanes(shapes, plane, fine, records.columns);
  at('finding passes')(0.6);
  const columns =
    known?.columns ??
    findColumns(
      records.columns,
      laid.lanes,
      {
        ...(input.columns ? { columns: input.columns } : {}),
        ...(input.dates ? { dates: input.dates } : {}),
        source: records.source,
      },
      records.recordNumber,
    );
  const stepM = 1 / Math.min(...plane.stepsPerMetre);
  let passes = findPasses(laid.lanes, columns);
  let bands = bandsOf(passes, laid.lanes, stepM);
  const seesSections = holdsSections(bands);
  const grain: Grain = laid.grain !== 'interval' ? laid.grain : seesSections ? 'section' : 'bar';
  at('finding passes')(1);

  at('fitting the layout')(0);
  // Without declared sections there is nothing to hold the recorded ones against: the width alone is fitted.
  const bySections = seesSections && planter.sectionsDeclared;
  const accuracyM = input.passAccuracyM ?? DEFAULT_ACCURACY_M;
  let seams = findSeams(passes, bands);
  const tryAll = (b: RecordedBands): LayoutFits[] => {
    const estimates = b.segments.map((e) => seamsWithin(passes, seams, e, accuracyM));
    return wanted.map((p) => believe(b, planter, p.name, bySections, estimates));
  };
  // Where no planting fits as declared, the one that the display had chosen explains the map with the fewest faults.
  const weight = (f: LayoutFits): number => f.declared + f.chosen;
  const bestOf = (list: LayoutFits[]): LayoutFits => list.reduce((a, b) => (weight(b) > weight(a) ? b : a));
  let fit = bestOf(tryAll(bands));
  if (passes.travelFrom === 'unknown' && bySections) {
    // Nothing tells left from right: the map is read from both sides, and laid out from the one that makes more sense.
    const turned = bestOf(tryAll(mirrorBands(bands)));
    const p = sideOf(fit, turned);
    if (p > 0.5) {
      passes = findPasses(laid.lanes, columns, true);
      bands = bandsOf(passes, laid.lanes, stepM);
      seams = findSeams(passes, bands);
    }
    fit = p > 0.5 ? eitherSide(turned, fit, 1 - p) : eitherSide(fit, turned, p);
  }
  const planting = planter.plantings.find((p) => p.name === fit.planting)!;
  const layout = layoutOf(planter, planting.name);
  const believedCentreM = fit.fits.map((f) => f.ranked[0]?.hypothesis.centreM ?? layout.centreM);
  const rows = findRows(passes, bands, layout, believedCentreM);
  return {
    plane,
    fine,
    laid,
    columns,
    passes,
    bands,
    grain,
    bySections,
    fit,
    planting,
    layout,
    believedCentreM,
    rows,
    seams,
  };
}

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

/** The recorded bands of every segment of the map. */
function bandsOf(passes: Passes, lanes: Lanes, stepM: number): RecordedBands {
  const kinds = findKinds(passes, stepM);
  return findBands(passes, lanes, stepM, kinds, findStretches(passes, kinds));
}

/** What the records cover: it does not depend on the planter. */
interface Covered {
  coverage: Coverage;
  rings: CoverageRings;
  /** Covered ground, with the land beyond the boundary where one was given. */
  fenced: Polygons;
  boundary: Float64Array[];
}

function coverRecords(records: RecordSet, boundary: RecordSet | null, plane: Plane, hooks: Hooks): Covered {
  const at = (stage: string) => (done: number) => hooks.progress?.(stage, done);
  const { shapes, lattice } = records;
  const { coverage, rings } = cover(shapes, plane.density, at('measuring covered ground'));
  if (!boundary) return { coverage, rings, fenced: rings.covered, boundary: [] };
  const outside = outsideOf(boundary, lattice, extentOf(shapes));
  const { covered } = outline(joinShapes(shapes, outside), plane.density, at('comparing it with the boundary'));
  return { coverage, rings, fenced: covered, boundary: ringsOf(outside) };
}

/**
 * Everything after the reading. Not asynchronous: a caller who wants to stop it throws from `progress`, or ends the worker. Where the planter
 * has several plantings and none is named, the map is checked under each of them.
 */
export function checkRecords(
  records: RecordSet,
  input: Omit<CheckInput, 'map' | 'boundary'>,
  hooks: Hooks = {},
  boundary: RecordSet | null = null,
  fitted: Fitted = fitMap(records, input, hooks),
): Answer {
  const covered = coverRecords(records, boundary, fitted.plane, hooks);
  if (input.planting !== undefined || input.planter.plantings.length === 1)
    return checkPlanting(records, input, hooks, fitted, covered);
  const each = input.planter.plantings.map(({ name }) => {
    const named = { ...input, planting: name };
    return checkPlanting(records, named, hooks, fitMap(records, named, hooks, fitted), covered);
  });
  return underEach(each, fitted.planting.name);
}

/** The same map under one planting after the other, as one answer: that of the planting `best` that the map fits best, with the verdict of all. */
function underEach(each: readonly Answer[], best: string): Answer {
  const ifPlanted = each.map(({ report: r }) => ({
    planting: r.declared.planting,
    verdict: r.verdict,
    says: r.says,
    settings: r.diagnoses.map((d) => d.setting),
  }));
  const shown = each.find((a) => a.report.declared.planting === best) ?? each[0];
  const declared = { ...shown.report.declared, plantingFound: true };
  const same = ifPlanted.every((p) => p.verdict === shown.report.verdict);
  const report: Report = { ...shown.report, declared, ifPlanted };
  if (same) return { ...shown, report };
  const says = `Undecided: nobody said what was planted. ${ifPlanted.map((p) => `If "${p.planting}" was planted: ${p.says}`).join(' ')}`;
  const wouldDecide = [
    'Say what was planted (--planting NAME). If nobody knows: dig, and count the rows between two wheel tracks.',
  ];
  // A diagnosis is one only if what it rests on was planted: they stand under their planting.
  return { ...shown, report: { ...report, verdict: 'undecided', says, wouldDecide, diagnoses: [] } };
}

function checkPlanting(
  records: RecordSet,
  input: Omit<CheckInput, 'map' | 'boundary'>,
  hooks: Hooks,
  fitted: Fitted,
  { coverage: covered, rings, fenced, boundary }: Covered,
): Answer {
  const at = (stage: string) => (done: number) => hooks.progress?.(stage, done);
  const { planter } = input;
  const { plane, fine, passes, bands, planting, layout, rows } = fitted;
  const accuracyM = input.passAccuracyM ?? DEFAULT_ACCURACY_M;
  const facts = factsOf(records, input, fitted, covered);
  at('fitting the layout')(1);

  const limits: CauseLimits = {
    noiseM: Math.max(LEAST_STRIP_M, 2 * accuracyM),
    steeringM: Math.max(LEAST_STRIP_M, 4 * accuracyM),
    passM: bands.segments.reduce((m, e) => Math.max(m, e.widthM), 0) || layout.workingWidthM,
    endM: endLimitM(passes, bands),
    travelM: facts.travelM,
  };
  const extent = extentOf(records.shapes);
  const ground: Ground = {
    plane,
    fine,
    fineDensity: planeFor(fine, scaleExtent(extent, fine, records.lattice)).density,
    passes,
    bands,
    laid: recordedQuads(passes),
    boundary,
  };
  const gaps = findGaps(fenced, ground, limits.passM, limits.noiseM);
  const overlaps = findOverlaps(rings.overlap, covered.areaAtDepthM2[1] ?? 0, ground, limits.passM, limits.noiseM);
  const widths = compareWidths(passes, bands, rows, layout, fitted.believedCentreM);
  const planted = layPlanted(passes, rows, layout, plane, fine);
  const finePlane = planeFor(fine, extentOf(planted.shapes.xy.length ? planted.shapes : records.shapes));
  const differs = widths.facts.length > 0;
  const plantedCover =
    passes.bars > 0 ? cover(planted.shapes, finePlane.density, at('measuring planted ground')) : null;

  const unplaced = findUnplaced(passes, covered.areaM2);
  const judgement = diagnose(facts);
  const account = makeAccount({
    gaps,
    overlaps,
    planted: plantedCover && differs ? plantedGround(planted, plantedCover, ground, limits) : null,
    widths: widths.facts,
    plantedCountM2: widths.plantedM2,
    findings: judgement.diagnoses,
    observations: judgement.observations,
    limits,
    unit: planter.unit,
  });
  const verdict = verdictOf(judgement, account, {
    planting: planting.name,
    layout,
    coveredM2: facts.coveredM2,
    unplacedM2: unplaced.areaM2,
    unit: planter.unit,
    grain: facts.grain,
  });
  const longest = bands.segments.length
    ? bands.segments.reduce((a, e) => (e.to - e.from > a.to - a.from ? e : a))
    : null;
  return summariseAnswer({
    records,
    facts,
    judgement,
    account,
    verdict,
    planterNotes: planterNotes(planter),
    plane,
    planted,
    covered,
    unplaced,
    rings,
    gaps,
    overlaps,
    boundary,
    plantedM2: plantedCover ? (plantedCover.coverage.areaAtDepthM2[0] ?? 0) : null,
    seamToleranceM: seamToleranceM(facts.accuracyM),
    sameWidth:
      longest && longest.bands.length === 1
        ? framesOfWidth(longest.widthM, Math.max(LEAST_TOLD_M, 2 * longest.width.standardError))
        : [],
    seedCostPerHa: input.seedCostPerHa ?? null,
  });
}

/** How far a pass may end short of the ground that it ends at, and no setting be to blame: one and a half log intervals, or one section, metres. */
function endLimitM(passes: Passes, bands: RecordedBands): number {
  const interval = passes.bars > 0 ? median(Float64Array.from(passes.lengthM)) : 0;
  const section = bands.segments.reduce((m, s) => s.bands.reduce((n, b) => Math.max(n, b.rightM - b.leftM), m), 0);
  return Math.max(LEAST_END_M, 1.5 * interval, section);
}

/** Seed falls for about half a second: displays start and stop that much early or late (common practice), metres. */
const LEAST_END_M = 2.5;

/** Gaps and overlaps of the planted picture, on the lattice of the map. */
function plantedGround(
  planted: Planted,
  { coverage, rings }: { coverage: Coverage; rings: CoverageRings },
  ground: Ground,
  limits: CauseLimits,
): { gaps: GroundFacts; overlaps: GroundFacts } {
  const factor = ground.plane.lattice.stepsPerDegree / planted.lattice.stepsPerDegree;
  const onMap = (p: Polygons): Polygons => ({ ...p, xy: p.xy.map((v) => v * factor) });
  const { xy } = planted.shapes;
  const corner = new Float64Array(xy.length);
  ground.plane.toMetres(
    Float64Array.from(xy, (v) => v * factor),
    0,
    xy.length / 2,
    corner,
  );
  const own: Ground = { ...ground, laid: { corner, bar: planted.bar } };
  return {
    gaps: findGaps(onMap(rings.covered), own, limits.passM, limits.noiseM),
    overlaps: findOverlaps(onMap(rings.overlap), coverage.areaAtDepthM2[1] ?? 0, own, limits.passM, limits.noiseM),
  };
}

function factsOf(
  records: RecordSet,
  input: Omit<CheckInput, 'map' | 'boundary'>,
  fitted: Fitted,
  covered: Coverage,
): Facts {
  const { planter } = input;
  const { laid, columns, passes, bands, grain, fit, planting, layout, believedCentreM, seams } = fitted;
  const accuracyM = input.passAccuracyM ?? DEFAULT_ACCURACY_M;
  const plantedSeamM = plantedSeams(seams, passes, bands, layout, believedCentreM);
  const ground =
    passes.travelFrom === 'unknown' || laid.grain !== 'interval' ? null : findCovered(passes, columns.timeIsClock);
  return {
    planter,
    planting,
    layout,
    grain,
    passes,
    bands,
    fits: fit.fits,
    seams,
    plantedSeamM,
    stretches: seamStretches(seams, plantedSeamM, passes, bands, accuracyM),
    ends: ground ? findEnds(passes, bands, ground) : [],
    states: ground ? findStates(passes, bands, ground) : { visits: [], slots: [] },
    columns,
    ruleBreaks: ruleBreaks(planter),
    records: records.recordNumber.length,
    repeated: laid.quads.repeated.length,
    repeatedM2: laid.quads.repeated.reduce((s, r) => s + covered.alreadyCoveredM2[r], 0),
    accuracyM,
    travelM: passes.lengthM.reduce((s, l) => s + l, 0),
    coveredM2: covered.areaAtDepthM2[0] ?? 0,
    recordedM2: covered.sumM2,
    twins: fit.twins,
  };
}

/** How the map is read for a check; the boundary is read without these choices. */
export function readOptions({
  layer,
  where,
  limits,
  columns,
  crs,
}: Pick<CheckInput, 'layer' | 'where' | 'limits' | 'columns' | 'crs'>): ReadOptions {
  return { limits, layer, where, columns, crs };
}

/** The boundary's layer cannot be chosen: `layer` is that of the map. */
async function readBoundary(files: NamedBytes[], limits: Partial<Limits>): Promise<RecordSet> {
  try {
    return await read(files, { limits, boundary: true });
  } catch (e) {
    if (!(e instanceof UserError) || e.detail.code !== 'several-layers') throw e;
    const { code, sentence, place } = e.detail;
    throw new UserError(code, sentence, place, 'Give the boundary as a file with one layer.');
  }
}

/** The plantings to try; a name that the planter does not have is refused before any reading. */
function plantingsOf(input: Pick<CheckInput, 'planter' | 'planting'>): Planting[] {
  return input.planting === undefined ? input.planter.plantings : [plantingOf(input.planter, input.planting)];
}
