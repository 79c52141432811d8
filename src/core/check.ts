import type { Answer, Grain } from './answer.ts';
import { areaOf, cover, gaps, joinPolygons, measure, outline } from './coverage/index.ts';
import { outsideOf, ringsOf } from './fence.ts';
import { joinShapes, type Lattice } from './geometry/shapes.ts';
import {
  believe,
  diagnose,
  type Facts,
  framesOfWidth,
  type LayoutFits,
  mirrorBands,
  seamToleranceM,
} from './infer/index.ts';
import { type Limits, type ReadOptions, read, type Where } from './intake/index.ts';
import type { NamedBytes, RecordSet } from './intake/types.ts';
import { UserError } from './messages.ts';
import {
  bridgeShapes,
  estimateSeams,
  findBands,
  findCovered,
  findEnds,
  findSeams,
  findStates,
  plantedSeams,
  type RecordedBands,
  type SeamMap,
  seamSides,
  seamStretches,
} from './observe/index.ts';
import { extentOf, finerLattice, type Plane, planeFor } from './plane/index.ts';
import { findRows, layPlanted, type PlantedRows } from './planted/index.ts';
import { layoutOf, planterNotes, plantingOf, ruleBreaks } from './planter/index.ts';
import type { PlantedLayout, Planter, Planting } from './planter/types.ts';
import { summariseAnswer } from './summary.ts';
import { type Columns, type DateOrder, findColumns, oneSectionNamed } from './track/columns/index.ts';
import { findPasses, findUnplaced, type Laid, layLanes } from './track/index.ts';
import type { Passes } from './track/types.ts';

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

/** Two widths closer than this are one in a map of rounded corners, metres. */
const LEAST_TOLD_M = 0.012;

/** A side of the map is the plainly better one from this difference in the logarithm of the evidence on: seven to one. */
const PLAINLY_BETTER = 2;

/** What the map is made of, and what the display that wrote it believed. */
export interface Fitted {
  plane: Plane;
  fine: Lattice;
  laid: Laid;
  columns: Columns;
  passes: Passes;
  bands: RecordedBands;
  grain: Grain;
  /** A section column that holds one section throughout. */
  oneSection: boolean;
  /** Sections can be seen in the records, and are declared. */
  bySections: boolean;
  fit: LayoutFits;
  planting: Planting;
  layout: PlantedLayout;
  /** Per segment of the bands, metres right of the frame centre. */
  believedCentreM: number[];
  rows: PlantedRows;
  seamMap: SeamMap;
}

/** The first half of the pipeline: passes, columns, layout, and the rows that planted. */
export function fitMap(records: RecordSet, input: Omit<CheckInput, 'map' | 'boundary'>, hooks: Hooks = {}): Fitted {
  const at = (stage: string) => (done: number) => hooks.progress?.(stage, done);
  const { planter } = input;
  const wanted = plantingsOf(input);
  const { shapes, lattice } = records;
  const extent = extentOf(shapes);
  const plane = planeFor(lattice, extent);
  const fine = finerLattice(lattice, extent);

  at('finding passes')(0);
  const laid = layLanes(shapes, plane, fine);
  at('finding passes')(0.6);
  const columns = findColumns(
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
  let bands = findBands(passes, laid.lanes, stepM);
  const most = bands.segments.reduce((n, e) => Math.max(n, e.bands.length), 0);
  const oneSection = oneSectionNamed(records.columns);
  const grain: Grain = laid.grain !== 'interval' ? laid.grain : most > 1 || oneSection ? 'section' : 'bar';
  const seesSections = most > 1 || (grain === 'section' && oneSection);
  at('finding passes')(1);

  at('fitting the layout')(0);
  // Without declared sections there is nothing to hold the recorded ones against: the width alone is fitted.
  const bySections = seesSections && planter.sectionsDeclared;
  const accuracyM = input.passAccuracyM ?? DEFAULT_ACCURACY_M;
  let seamMap = findSeams(passes, bands);
  const tryAll = (b: RecordedBands): LayoutFits[] => {
    const { seams } = seamMap;
    const recordedM = seams.map((s) => s.recordedM);
    const sides = seamSides(seams, recordedM, accuracyM, passes.travelFrom !== 'unknown');
    const { steady } = estimateSeams(seams, recordedM, accuracyM, sides);
    return wanted.map((p) => believe(b, planter, p.name, bySections, steady));
  };
  // Where no planting fits as declared, the one that the display had chosen explains the map with the fewest faults.
  const weight = (f: LayoutFits): number => f.declared + f.chosen;
  const bestOf = (list: LayoutFits[]): LayoutFits => list.reduce((a, b) => (weight(b) > weight(a) ? b : a));
  let fit = bestOf(tryAll(bands));
  if (passes.travelFrom === 'unknown' && bySections) {
    // Nothing tells left from right: the map is given the benefit of the doubt, and else the side from which it makes more sense.
    const turned = bestOf(tryAll(mirrorBands(bands)));
    const agree = Math.max(turned.declared, fit.declared) >= 0.5;
    if (agree ? turned.declared > fit.declared : turned.evidence > fit.evidence + PLAINLY_BETTER) {
      passes = findPasses(laid.lanes, columns, true);
      bands = findBands(passes, laid.lanes, stepM);
      seamMap = findSeams(passes, bands);
      fit = bestOf(tryAll(bands));
    }
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
    oneSection,
    bySections,
    fit,
    planting,
    layout,
    believedCentreM,
    rows,
    seamMap,
  };
}

/** Everything after the reading. Not asynchronous: a caller who wants to stop it throws from `progress`, or ends the worker. */
export function checkRecords(
  records: RecordSet,
  input: Omit<CheckInput, 'map' | 'boundary'>,
  hooks: Hooks = {},
  boundary: RecordSet | null = null,
  fitted: Fitted = fitMap(records, input, hooks),
): Answer {
  const at = (stage: string) => (done: number) => hooks.progress?.(stage, done);
  const { planter } = input;
  const { shapes, lattice } = records;
  const extent = extentOf(shapes);
  const {
    plane,
    fine,
    laid,
    columns,
    passes,
    bands,
    grain,
    oneSection,
    fit,
    planting,
    layout,
    believedCentreM,
    rows,
    seamMap,
  } = fitted;
  const plantedSeamM = plantedSeams(seamMap.seams, passes, bands, layout, believedCentreM);
  at('fitting the layout')(1);

  const bridges = bridgeShapes(seamMap, passes, plane);
  const { coverage: covered, rings, bridged } = cover(shapes, plane.density, at('measuring covered ground'), bridges);
  const widthM = bands.segments[0]?.widthM ?? layout.workingWidthM;
  const outside = boundary ? outsideOf(boundary, lattice, extent) : null;
  const fenced = outside
    ? outline(joinShapes(joinShapes(shapes, bridges), outside), plane.density, at('holding it against the boundary'))
        .covered
    : bridged.closed;
  const enclosed = gaps(fenced, plane.stepsPerMetre, widthM);
  const gapM2 = bridged.openM2 + areaOf(enclosed, plane.density).reduce((a, b) => a + b, 0);
  const planted = layPlanted(passes, rows, layout, plane, fine);
  const finePlane = planeFor(fine, extentOf(planted.shapes.xy.length ? planted.shapes : shapes));
  const plantedM2 =
    passes.bars > 0
      ? measure(planted.shapes, finePlane.density, at('measuring planted ground')).areaAtDepthM2[0]
      : null;

  const ground =
    passes.travelFrom === 'unknown' || laid.grain !== 'interval' ? null : findCovered(passes, columns.timeIsClock);
  const breaks = ruleBreaks(planter);
  let travelM = 0;
  for (const l of passes.lengthM) travelM += l;
  const repeatedM2 = laid.quads.repeated.reduce((s, r) => s + covered.alreadyCoveredM2[r], 0);
  const accuracyM = input.passAccuracyM ?? DEFAULT_ACCURACY_M;
  const facts: Facts = {
    planter,
    planting,
    layout,
    grain,
    passes,
    bands,
    fits: fit.fits,
    seams: seamMap.seams,
    plantedSeamM,
    stretches: seamStretches(seamMap.seams, plantedSeamM, passes, bands, accuracyM),
    ends: ground ? findEnds(passes, bands, ground) : [],
    states: ground ? findStates(passes, bands, ground) : { visits: [], slots: [] },
    columns,
    oneSectionNamed: oneSection,
    ruleBreaks: breaks,
    records: records.recordNumber.length,
    repeated: laid.quads.repeated.length,
    repeatedM2,
    accuracyM,
    travelM,
    coveredM2: covered.areaAtDepthM2[0] ?? 0,
    recordedM2: covered.sumM2,
    twins: fit.twins,
    plantingFound: input.planting === undefined && planter.plantings.length > 1,
  };
  const judgement = diagnose(facts);
  const longest = bands.segments.length
    ? bands.segments.reduce((a, e) => (e.to - e.from > a.to - a.from ? e : a))
    : null;
  return summariseAnswer({
    records,
    facts,
    judgement,
    planterNotes: planterNotes(planter),
    plane,
    planted,
    covered,
    unplaced: findUnplaced(passes, covered.areaM2),
    rings,
    gaps: joinPolygons(bridged.open, enclosed),
    boundary: outside ? ringsOf(outside) : [],
    gapM2,
    plantedM2,
    seamToleranceM: seamToleranceM(facts.accuracyM),
    sameWidth:
      longest && longest.bands.length === 1 && !oneSection
        ? framesOfWidth(longest.widthM, Math.max(LEAST_TOLD_M, 2 * longest.widthSeM))
        : [],
    seedCostPerHa: input.seedCostPerHa ?? null,
  });
}

/** How the map is read for a check; the boundary is read without these choices. */
export function readOptions({ layer, where, limits }: Pick<CheckInput, 'layer' | 'where' | 'limits'>): ReadOptions {
  return {
    limits: limits ?? {},
    ...(layer === undefined ? {} : { layer }),
    ...(where === undefined ? {} : { where }),
  };
}

/** The boundary's layer cannot be chosen: `layer` is that of the map. */
async function readBoundary(files: NamedBytes[], limits: Partial<Limits>): Promise<RecordSet> {
  try {
    return await read(files, { limits });
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
