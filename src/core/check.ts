import {
  accountOf,
  type Limits as CauseLimits,
  compareWidths,
  makeAccount,
  verdictOf,
  verdictOfAll,
} from './account/index.ts';
import type { Answer, MachineSummary } from './answer.ts';
import { type Coverage, type CoverageRings, cover, outline, type Polygons } from './coverage/index.ts';
import { outsideOf, ringsOf } from './fence.ts';
import { DEFAULT_ACCURACY_M, type DeclaredPlanter, type Fitted, fitMap, refit } from './fit.ts';
import { joinShapes } from './geometry/shapes.ts';
import { median } from './geometry/stats.ts';
import { findGaps, findOverlaps, type Ground, type GroundFacts, recordedQuads } from './ground/index.ts';
import { diagnose, type Facts, type Judgement, seamToleranceM } from './infer/index.ts';
import { type Limits, type ReadOptions, read, type Where } from './intake/index.ts';
import type { NamedBytes, RecordSet } from './intake/types.ts';
import { UserError } from './messages.ts';
import { findCovered, findEnds, findStates, plantedSeams, type RecordedBands, seamStretches } from './observe/index.ts';
import { extentOf, type Plane, planeFor, scaleExtent } from './plane/index.ts';
import { layPlanted, type Planted } from './planted/index.ts';
import { plantingOf, ruleBreaks } from './planter/index.ts';
import type { Planter } from './planter/types.ts';
import { summariseAnswer } from './summary.ts';
import type { DateOrder } from './track/columns/index.ts';
import { findUnplaced } from './track/index.ts';
import { gatherPasses } from './track/origins.ts';
import type { Passes } from './track/types.ts';

export { DEFAULT_ACCURACY_M, type DeclaredPlanter, type Fitted, fitMap } from './fit.ts';
export { DEFAULT_LIMITS, LIMIT_NAMES, type Limits, parseWhere, type Where } from './intake/index.ts';
export type { DateOrder } from './track/columns/index.ts';

export interface CheckInput {
  /** The map: a GeoJSON, a zipped shapefile, or the loose parts of one shapefile. */
  map: NamedBytes[];
  planter: Planter;
  /** Every planter that worked in this field, `planter` too, where there are several or one is of a machine that the map names. */
  planters?: readonly DeclaredPlanter[];
  /** Left out: each planting is tried and the report says which one the map fits. */
  planting?: string;
  /** What single machines planted, by the name of the machine. */
  plantings?: Readonly<Record<string, string>>;
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

/** The whole pipeline. Throws `UserError` when the input cannot be worked with. */
export async function check(input: CheckInput, hooks: Hooks = {}): Promise<Answer> {
  // A name that no planter has is refused before any reading.
  if (input.planting !== undefined && !input.planters) plantingOf(input.planter, input.planting);
  const records = await read(input.map, readOptions(input), (done) => hooks.progress?.('reading the map', done));
  const boundary = input.boundary ? await readBoundary(input.boundary, input.limits ?? {}) : null;
  return checkRecords(records, input, hooks, boundary);
}

/** Strips narrower than this, or than twice the pass-to-pass accuracy, are positioning noise, metres. */
const LEAST_STRIP_M = 0.05;

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
 * Everything after the reading. Not asynchronous: a caller who wants to stop it throws from `progress`, or ends the worker. Where a planter
 * has several plantings and none is named, its passes are judged under each of them.
 */
export function checkRecords(
  records: RecordSet,
  input: Omit<CheckInput, 'map' | 'boundary'>,
  hooks: Hooks = {},
  boundary: RecordSet | null = null,
  parts: readonly Fitted[] = fitMap(records, input, hooks),
): Answer {
  const covered = coverRecords(records, boundary, parts[0].plane, hooks);
  const answer = checkParts(records, input, hooks, parts, covered);
  const machines = answer.report.machines.map((machine, m) => {
    const part = parts[m];
    if (!part.plantingFound) return machine;
    const each = part.planter.plantings.map((planting) => {
      if (planting.name === part.planting.name) return machine;
      const others = parts.map((p) => (p === part ? refit(part, planting, input) : p));
      return checkParts(records, input, hooks, others, covered).report.machines[m];
    });
    return underEach(machine, each);
  });
  if (machines.every((m, i) => m === answer.report.machines[i])) return answer;
  const { ifPlanted } = machines[0];
  const verdict = verdictOfAll(machines);
  // A diagnosis is one only if what it rests on was planted: where that is open, they stand under their planting.
  const open = new Set(machines.filter((m) => m.ifPlanted.length > 0 && m.verdict === 'undecided').map((m) => m.name));
  const diagnoses = answer.report.diagnoses.filter((d) => !open.has(d.machine ?? machines[0].name));
  return {
    ...answer,
    report: { ...answer.report, ...verdict, machines, diagnoses, ifPlanted: machines.length === 1 ? ifPlanted : [] },
  };
}

/** One machine under one planting after the other: `best` is the one that its map fits best, and is shown with the verdict of all. */
function underEach(best: MachineSummary, each: readonly MachineSummary[]): MachineSummary {
  const ifPlanted = each.map(({ planting, verdict, says, settings }) => ({ planting, verdict, says, settings }));
  if (each.every((m) => m.verdict === best.verdict)) return { ...best, ifPlanted };
  return {
    ...best,
    ifPlanted,
    verdict: 'undecided',
    says: `Undecided: nobody said what was planted. ${ifPlanted.map((p) => `If "${p.planting}" was planted: ${p.says}`).join(' ')}`,
    wouldDecide: [
      'Say what was planted (--planting NAME). If nobody knows: dig, and count the rows between two wheel tracks.',
    ],
    settings: [],
  };
}

/** Every machine judged against its planter, on ground that all of them covered. */
function checkParts(
  records: RecordSet,
  input: Omit<CheckInput, 'map' | 'boundary'>,
  hooks: Hooks,
  parts: readonly Fitted[],
  { coverage: covered, rings, fenced, boundary }: Covered,
): Answer {
  const at = (stage: string) => (done: number) => hooks.progress?.(stage, done);
  const accuracyM = input.passAccuracyM ?? DEFAULT_ACCURACY_M;
  const judged = judgeParts(records, input, parts, covered);
  at('fitting the layout')(1);
  const { plane, fine } = parts[0];
  const { passes, bands } = joinTracks(parts);
  const travelM = judged.reduce((s, p) => s + p.facts.travelM, 0);
  const limits: CauseLimits = {
    noiseM: Math.max(LEAST_STRIP_M, 2 * accuracyM),
    steeringM: Math.max(LEAST_STRIP_M, 6 * accuracyM),
    passM: bands.segments.reduce((m, e) => Math.max(m, e.widthM), 0) || parts[0].layout.workingWidthM,
    endM: endLimitM(passes, bands),
    travelM,
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
  const planted = joinPlanted(parts, passes);
  const finePlane = planeFor(fine, extentOf(planted.shapes.xy.length ? planted.shapes : records.shapes));
  const differs = judged.some((p) => p.widths.facts.length > 0);
  const plantedCover =
    passes.bars > 0 ? cover(planted.shapes, finePlane.density, at('measuring planted ground')) : null;
  const unplaced = findUnplaced(passes, covered.areaM2);
  const account = makeAccount({
    gaps,
    overlaps,
    planted: plantedCover && differs ? plantedGround(planted, plantedCover, ground, limits) : null,
    widths: judged.flatMap((p) => p.widths.facts),
    plantedCountM2: judged.reduce((s, p) => s + p.widths.plantedM2, 0),
    parts: judged.map(({ part, judgement }) => ({
      findings: judgement.diagnoses,
      observations: judgement.observations,
      passes: new Set(part.passes.number),
    })),
    startMs: parts[0].origins.startMs,
    limits,
    unit: input.planter.unit,
  });
  return summariseAnswer({
    records,
    parts: judged.map(({ part, facts, judgement }) => {
      // Ground between no known passes belongs to the one machine, and to none of several.
      const own = parts.length === 1 ? account : accountOf(account, new Set(part.passes.number));
      return {
        part,
        facts,
        judgement,
        account: own,
        verdict: verdictOf(judgement, own, aboutOf(facts, unplaced.areaM2)),
      };
    }),
    passes,
    bands,
    account,
    plane,
    planted,
    covered,
    unplaced,
    rings,
    gaps,
    overlaps,
    boundary,
    plantedM2: plantedCover ? (plantedCover.coverage.areaAtDepthM2[0] ?? 0) : null,
    seamToleranceM: seamToleranceM(accuracyM),
    seedCostPerHa: input.seedCostPerHa ?? null,
  });
}

const aboutOf = ({ planting, layout, coveredM2, planter, grain }: Facts, unplacedM2: number) => ({
  unplacedM2,
  planting: planting.name,
  layout,
  coveredM2,
  unit: planter.unit,
  grain,
});

/** What each machine's passes show by themselves. Observations are numbered through all machines. */
function judgeParts(
  records: RecordSet,
  input: Omit<CheckInput, 'map' | 'boundary'>,
  parts: readonly Fitted[],
  covered: Coverage,
): { part: Fitted; facts: Facts; judgement: Judgement; widths: ReturnType<typeof compareWidths> }[] {
  let known = 0;
  return parts.map((part) => {
    const facts = factsOf(records, input, part, covered);
    const judgement = numberOn(diagnose(facts), known);
    known += judgement.observations.length;
    const { passes, bands, rows, layout, believedCentreM } = part;
    return { part, facts, judgement, widths: compareWidths(passes, bands, rows, layout, believedCentreM) };
  });
}

function numberOn(j: Judgement, known: number): Judgement {
  if (known === 0) return j;
  const next = (id: string): string => `o${Number(id.slice(1)) + known}`;
  return {
    ...j,
    observations: j.observations.map((o) => ({ ...o, id: next(o.id) })),
    diagnoses: j.diagnoses.map((d) => ({ ...d, because: d.because.map(next) })),
  };
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
  const { laid, planter, columns, passes, bands, grain, fit, planting, layout, believedCentreM, seams } = fitted;
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

/** The passes of all machines in the order of their numbers, with the bands that each machine's own layout gives them. */
function joinTracks(parts: readonly Fitted[]): { passes: Passes; bands: RecordedBands } {
  if (parts.length === 1) return parts[0];
  const list = parts
    .flatMap((part) => Array.from(part.passes.number, (number, pass) => ({ part, passes: part.passes, number, pass })))
    .sort((a, b) => a.number - b.number);
  const passes = gatherPasses(list);
  const firstSegment = new Map<Fitted, number>();
  const bands: RecordedBands = {
    segments: parts.flatMap((part) => part.bands.segments),
    segment: new Uint16Array(passes.bars),
    full: new Uint8Array(passes.bars),
    slot: new Int16Array(passes.barQuad.length),
    middleM: new Float64Array(passes.bars),
  };
  parts.reduce((n, part) => {
    firstSegment.set(part, n);
    return n + part.bands.segments.length;
  }, 0);
  let bar = 0;
  let slot = 0;
  for (const { part, pass } of list) {
    const { passStart, barStart } = part.passes;
    const [from, to] = [passStart[pass], passStart[pass + 1]];
    const own = part.bands.slot.subarray(barStart[from], barStart[to]);
    for (let b = from; b < to; b++)
      bands.segment[bar + b - from] = part.bands.segment[b] + (firstSegment.get(part) as number);
    bands.full.set(part.bands.full.subarray(from, to), bar);
    bands.middleM.set(part.bands.middleM.subarray(from, to), bar);
    bands.slot.set(own, slot);
    bar += to - from;
    slot += own.length;
  }
  return { passes, bands };
}

/** What all machines put in the ground; bars are those of `passes`, all machines together. */
function joinPlanted(parts: readonly Fitted[], passes: Passes): Planted {
  const each = parts.map((p) => layPlanted(p.passes, p.rows, p.layout, p.plane, p.fine));
  if (each.length === 1) return each[0];
  const at = new Map(Array.from(passes.number, (number, pass) => [number, passes.passStart[pass]]));
  const bars = parts.map((part) => {
    const out = new Uint32Array(part.passes.bars);
    for (let p = 0; p + 1 < part.passes.passStart.length; p++)
      for (let b = part.passes.passStart[p]; b < part.passes.passStart[p + 1]; b++)
        out[b] = (at.get(part.passes.number[p]) as number) + b - part.passes.passStart[p];
    return out;
  });
  return {
    shapes: each.map((p) => p.shapes).reduce(joinShapes),
    lattice: each[0].lattice,
    bar: Uint32Array.from(each.flatMap((p, i) => Array.from(p.bar, (b) => bars[i][b]))),
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
