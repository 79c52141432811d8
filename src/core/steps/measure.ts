/** Facts of the ground: what is covered, what is open or covered twice and beside which passes, on the map and as planted. */
import type { Limits } from '../account/index.ts';
import { type Coverage, type CoverageRings, cover, coverFirst, type Polygons, union } from '../coverage/index.ts';
import { joinShapes } from '../geometry/shapes.ts';
import { median } from '../geometry/stats.ts';
import {
  findGaps,
  findOverlaps,
  type Ground,
  type GroundFacts,
  type LaidQuads,
  Owners,
  type PassGround,
  recordedQuads,
} from '../ground/index.ts';
import type { RecordSet } from '../intake/types.ts';
import type { RecordedBands } from '../observe/index.ts';
import { extentOf, type Plane, planeFor, scaleExtent } from '../plane/index.ts';
import type { Planted } from '../planted/index.ts';
import { findUnplaced } from '../track/index.ts';
import type { Passes } from '../track/types.ts';
import type { Unplaced } from '../track/unplaced.ts';
import { outsideOf, ringsOf } from './boundary.ts';
import type { Job } from './job.ts';
import type { Field } from './join.ts';

/** What the records cover: it does not depend on the planter. */
export interface Covered {
  coverage: Coverage;
  rings: CoverageRings;
  /** Covered ground, with the land beyond the boundary where one was given. */
  withOutside: Polygons;
  boundary: Float64Array[];
}

/** Records and boundary, as far as they cover ground. */
export interface Land {
  records: Pick<RecordSet, 'shapes' | 'lattice'>;
  boundary: RecordSet | null;
}

export function coverSource({ records, boundary }: Land, plane: Plane, { progress }: Pick<Job, 'progress'>): Covered {
  const at = (stage: string) => (done: number) => progress(stage, done);
  const { shapes, lattice } = records;
  const { coverage, rings } = cover(shapes, plane.density, at('measuring covered ground'));
  if (!boundary) return { coverage, rings, withOutside: rings.covered, boundary: [] };
  const outside = outsideOf(boundary, lattice, extentOf(shapes));
  const withOutside = union(joinShapes([shapes, outside]), at('comparing it with the boundary'));
  return { coverage, rings, withOutside, boundary: ringsOf(outside) };
}

/** Gaps and overlaps of one picture. */
export interface Picture {
  gaps: GroundFacts;
  overlaps: GroundFacts;
}

export interface Areas extends RecordedAreas, PlantedAreas {
  /** Recorded ground outside of all passes, for which nothing planted is drawn. */
  unplaced: Unplaced;
}

/** What the records show. */
export interface RecordedAreas {
  /** What is narrower, wider or shorter than this has a usual cause. */
  limits: Limits;
  recorded: Picture;
}

/** What the declared planter put in the ground. */
export interface PlantedAreas {
  /** Null where the planted picture is the recorded one. */
  planted: Picture | null;
  /** Union of the planted picture, square meters; null where no pass was found. */
  plantedM2: number | null;
}

/** `differs`: some bars are not as wide as declared, so that the planted picture has gaps and overlaps of its own. */
export function measureAreas(
  records: Land['records'],
  field: Field,
  covered: Covered,
  differs: boolean,
  job: Pick<Job, 'accuracyM' | 'progress'>,
): Areas {
  const recorded = measureRecorded(records, field, covered, job);
  const planted = measurePlanted(records, field, covered, differs, job);
  return { ...recorded, ...planted, unplaced: findUnplaced(field.passes, covered.coverage.areaM2) };
}

/** What of a field its recorded picture depends on. */
export interface RecordedField extends Pick<Field, 'bands' | 'plane' | 'fine' | 'declaredM'> {
  passes: PassGround & Pick<Passes, 'lengthM'>;
}

/** What of a field its planted picture depends on. */
export interface PlantedField extends RecordedField {
  planted: Planted;
}

/** The half of `measureAreas` that needs no planted picture. */
export function measureRecorded(
  records: Land['records'],
  field: RecordedField,
  covered: Covered,
  { accuracyM }: Pick<Job, 'accuracyM'>,
): RecordedAreas {
  const { coverage, rings, withOutside } = covered;
  const limits = limitsOf(field, accuracyM);
  const ground = groundOf(records, field, covered);
  return {
    limits,
    recorded: {
      gaps: findGaps(withOutside, ground, limits.passM, limits.noiseM),
      overlaps: findOverlaps(rings.overlap, coverage.areaAtDepthM2[1] ?? 0, ground, limits.passM, limits.noiseM),
    },
  };
}

/** The other half. */
export function measurePlanted(
  records: Land['records'],
  field: PlantedField,
  covered: Covered,
  differs: boolean,
  job: Pick<Job, 'accuracyM' | 'progress'>,
): PlantedAreas {
  const { fine, passes, planted } = field;
  const finePlane = planeFor(fine, extentOf(planted.shapes.xy.length ? planted.shapes : records.shapes));
  const progress = (done: number): void => job.progress('measuring planted ground', done);
  const drawn = passes.bars > 0 ? coverPlanted(planted, finePlane, differs, progress) : null;
  const limits = limitsOf(field, job.accuracyM);
  return {
    planted: drawn?.rings
      ? plantedPicture(planted, drawn.coverage, drawn.rings, groundOf(records, field, covered), limits)
      : null,
    plantedM2: drawn ? (drawn.coverage.areaAtDepthM2[0] ?? 0) : null,
  };
}

/** What the planted picture covers; its boundaries where `drawn` says that they are looked at. */
function coverPlanted(
  { shapes }: Planted,
  { density }: Plane,
  drawn: boolean,
  progress: (done: number) => void,
): { coverage: Coverage; rings: CoverageRings | null } {
  const { coverage, rings } = coverFirst(shapes, density, progress);
  return { coverage, rings: drawn ? rings() : null };
}

/** The recorded picture. */
function groundOf(
  { shapes, lattice }: Land['records'],
  { plane, fine, passes, bands }: RecordedField,
  { boundary }: Covered,
): Ground {
  return {
    plane,
    fine,
    fineDensity: planeFor(fine, scaleExtent(extentOf(shapes), fine, lattice)).density,
    passes,
    bands,
    owners: new Owners(passes, () => recordedQuads(passes)),
    boundary,
    points: shapes.xy.length / 2,
  };
}

/** Strips narrower than this, or than twice the pass-to-pass accuracy, are positioning noise, meters. */
const LEAST_STRIP_M = 0.05;

/** Steering errors of two passes add up: six times the accuracy of one is four standard deviations of both. */
const STEERING = 6;

/** Width up to which open ground is a gap, meters: that of the widest pass. A section that never recorded leaves strips that are wider than what the others record. */
export const widestPassM = ({ bands, declaredM }: Pick<RecordedField, 'bands' | 'declaredM'>): number =>
  bands.segments.reduce((m, e) => Math.max(m, e.widthM), declaredM);

function limitsOf(field: RecordedField, accuracyM: number): Limits {
  const { passes, bands } = field;
  return {
    noiseM: Math.max(LEAST_STRIP_M, 2 * accuracyM),
    steeringM: Math.max(LEAST_STRIP_M, STEERING * accuracyM),
    passM: widestPassM(field),
    endM: endLimitM(passes, bands),
    travelM: passes.lengthM.reduce((s, l) => s + l, 0),
  };
}

/** How far a pass may end short of the ground that it ends at, and no setting be to blame: one and a half log intervals, or one section, meters. */
function endLimitM(passes: RecordedField['passes'], bands: RecordedBands): number {
  const interval = passes.bars > 0 ? median(passes.lengthM) : 0;
  const section = bands.segments.reduce((m, s) => s.bands.reduce((n, b) => Math.max(n, b.rightM - b.leftM), m), 0);
  return Math.max(LEAST_END_M, 1.5 * interval, section);
}

/** Seed falls for about half a second: displays start and stop that much early or late (common practice), meters. */
const LEAST_END_M = 2.5;

/** Numbers of which a piece is made. */
const PIECE = 8192;

/** Gaps and overlaps of the planted picture, on the lattice of the map. */
function plantedPicture(
  planted: Planted,
  coverage: Coverage,
  rings: CoverageRings,
  ground: Ground,
  limits: Limits,
): Picture {
  const factor = ground.plane.lattice.stepsPerDegree / planted.lattice.stepsPerDegree;
  const onMap = (p: Polygons): Polygons => ({ ...p, xy: p.xy.map((v) => v * factor) });
  const { xy } = planted.shapes;
  const lay = (): LaidQuads => {
    const corner = new Float64Array(xy.length);
    // A piece at a time: a second array as long as the map's quads would double what is held here.
    const steps = new Float64Array(PIECE);
    for (let from = 0; from < xy.length; from += PIECE) {
      const part = xy.subarray(from, from + PIECE);
      for (let k = 0; k < part.length; k++) steps[k] = part[k] * factor;
      ground.plane.toMeters(steps, 0, part.length / 2, corner.subarray(from));
    }
    return { corner, bar: planted.bar };
  };
  const own: Ground = { ...ground, owners: new Owners(ground.passes, lay) };
  return {
    gaps: findGaps(onMap(rings.covered), own, limits.passM, limits.noiseM),
    overlaps: findOverlaps(onMap(rings.overlap), coverage.areaAtDepthM2[1] ?? 0, own, limits.passM, limits.noiseM),
  };
}
