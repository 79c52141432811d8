import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Lattice } from '../../src/core/geometry/shapes.ts';
import type { GroundLine } from '../../src/core/ground/index.ts';
import { readPlanter } from '../../src/core/index.ts';
import { diagnoseMachines } from '../../src/core/steps/diagnose.ts';
import { explainField } from '../../src/core/steps/explain.ts';
import { fitMap } from '../../src/core/steps/fit/index.ts';
import { jobOf } from '../../src/core/steps/job.ts';
import { joinMachines } from '../../src/core/steps/join.ts';
import { coverSource, measureAreas } from '../../src/core/steps/measure.ts';
import { readSource } from '../../src/core/steps/source.ts';
import { summarizeAnswer } from '../../src/core/steps/summary.ts';
import { type ClosingJob, closeByGeos, closeByJts } from '../outside/closing.ts';

/** A map to measure. */
export interface MapToMeasure {
  name: string;
  map: string;
  planter: string;
  planting: string;
  boundary: string | null;
}

/** One map, measured here and by closing with GEOS. Square meters. */
export interface Compared {
  name: string;
  verdict: string;
  /** Diameter of the circles that closing draws: a working width, give or take steering. */
  widthM: number;
  /** Open ground wider than steering noise (twice what a sliver may be), and what GEOS finds wider than that. */
  gapM2: number;
  stripsM2: number;
  pocketsM2: number;
  /** Corners and crescents in notches: filled by closing, and not kept. */
  droppedM2: number;
  /** Strips and pockets by plain closing, with what it fills of corners that they come out of. */
  plainM2: number;
  /** Strips and pockets by JTS; null where it was not asked, its own words where it failed. */
  jtsM2: number | string | null;
  /** Records without an area, which GEOS leaves out. */
  leftOut: number;
  coveredM2: number;
  /** Recorded lines less the area that the report gives, for gaps and for overlaps. */
  gapResidualM2: number;
  overlapResidualM2: number;
}

/** Ground within this part of what is covered is noise: shorter than both measures can tell a strip from a corner. */
export const NOISE_SHARE = 0.0005;

/**
 * `none`: both find nothing but noise. `within 5 %`: of strips and pockets, by closing that keeps corners or by plain closing, or within noise of them. `between`: more than what closing keeps, less than all that it fills
 * (the two draw the line between a short strip and a corner at other places). Else `above` all that closing fills, or `below` what it keeps.
 */
export function agreementOf(c: Compared): 'none' | 'within 5 %' | 'between' | 'above' | 'below' {
  const noiseM2 = NOISE_SHARE * c.coveredM2;
  const kept = c.stripsM2 + c.pocketsM2;
  if (kept <= noiseM2 && c.gapM2 <= noiseM2) return 'none';
  if ([kept, c.plainM2].some((m2) => Math.abs(c.gapM2 - m2) <= Math.max(0.05 * m2, noiseM2))) return 'within 5 %';
  if (c.gapM2 < kept) return 'below';
  return c.gapM2 <= 1.05 * Math.max(kept + c.droppedM2, c.plainM2) + noiseM2 ? 'between' : 'above';
}

const named = (name: string, text: string) => {
  const bytes = new TextEncoder().encode(text);
  return {
    name,
    sizeBytes: bytes.length,
    async *chunks() {
      yield bytes;
    },
  };
};

/** Checks the maps and closes the same files with GEOS, in one process for all; those marked in `jts` with JTS too. With `keep`, a picture of both for the first map as files in that folder. */
export async function compareWithClosing(
  maps: readonly MapToMeasure[],
  accuracyM: number,
  { keep, jts = [] }: { keep?: string; jts?: readonly boolean[] } = {},
): Promise<Compared[]> {
  const folder = mkdtempSync(join(tmpdir(), 'guessrow-closing-'));
  const jobs: ClosingJob[] = [];
  const out: Omit<Compared, 'stripsM2' | 'pocketsM2' | 'droppedM2' | 'plainM2' | 'leftOut' | 'jtsM2'>[] = [];
  try {
    for (const [i, m] of maps.entries()) {
      const { gaps, lattice, limits, report } = await measured(m, accuracyM);
      const noiseM = 2 * limits.noiseM;
      const widthM = limits.passM + noiseM;
      const map = join(folder, `${i}.geojson`);
      const boundary = join(folder, `${i}.boundary.geojson`);
      writeFileSync(map, m.map);
      if (m.boundary !== null) writeFileSync(boundary, m.boundary);
      jobs.push({ map, widthM, noiseM, ...(m.boundary === null ? {} : { boundary }) });
      if (keep && i === 0)
        writeFileSync(join(keep, 'ours.geojson'), collection(gaps.lines.map((l) => drawn(l, lattice))));
      const lines = report.account.filter((l) => l.picture === 'recorded');
      const sum = (fact: string): number => lines.filter((l) => l.fact === fact).reduce((a, l) => a + l.areaM2, 0);
      out.push({
        name: m.name,
        verdict: report.verdict,
        widthM,
        gapM2: gaps.lines.filter((l) => l.widthM > noiseM).reduce((a, l) => a + l.areaM2, 0),
        coveredM2: report.area.coveredM2,
        gapResidualM2: sum('gap') - report.area.gapM2,
        overlapResidualM2: sum('overlap') - report.area.overlapM2,
      });
    }
    const closed = closeByGeos(jobs);
    if (keep) {
      const { pieces, corners = [] } = closed[0];
      const features = [...pieces, ...corners].map(({ geometry, ...properties }) => ({ geometry, properties }));
      writeFileSync(join(keep, 'geos.geojson'), collection(features));
    }
    return out.map((o, i) => {
      const { stripsM2, pocketsM2, droppedM2, plainM2 = 0, leftOut } = closed[i];
      return { ...o, stripsM2, pocketsM2, droppedM2, plainM2, leftOut, jtsM2: jts[i] ? byJts(jobs[i]) : null };
    });
  } finally {
    rmSync(folder, { recursive: true });
  }
}

/** JTS's overlay and buffers throw on some maps whose edges nearly coincide. */
function byJts(job: ClosingJob): number | string {
  try {
    const { stripsM2, pocketsM2 } = closeByJts(job);
    return stripsM2 + pocketsM2;
  } catch (e) {
    return String(e);
  }
}

/** The report of a map, and its gaps before they are joined to lines of the account. */
async function measured(m: MapToMeasure, accuracyM: number) {
  const input = {
    map: [named('map.geojson', m.map)],
    planter: readPlanter(m.planter, 'yard.planter.json'),
    planting: m.planting,
    passAccuracyM: accuracyM,
    ...(m.boundary === null ? {} : { boundary: [named('boundary.geojson', m.boundary)] }),
  };
  const job = jobOf(input);
  const source = await readSource(input, job);
  // The steps of the check, once: it says nothing of gaps before they are joined to lines.
  const machines = fitMap(source.records, job);
  const covered = coverSource(source, machines[0].plane, job);
  const judged = diagnoseMachines(source.records, machines, covered, job);
  const differs = judged.some((p) => p.widths.facts.length > 0);
  const field = joinMachines(machines);
  const areas = measureAreas(source.records, field, covered, differs, job);
  const explained = explainField(source.records, judged, field, areas, job);
  const { report } = summarizeAnswer({ records: source.records, field, covered, areas, explained, job });
  return { gaps: areas.recorded.gaps, lattice: field.plane.lattice, limits: areas.limits, report };
}

const collection = (features: readonly object[]): string =>
  JSON.stringify({ type: 'FeatureCollection', features: features.map((f) => ({ type: 'Feature', ...f })) });

function drawn({ polygons: p, ...l }: GroundLine, { originX, originY, stepsPerDegree: per }: Lattice): object {
  const ring = (r: number): number[][] => {
    const points: number[][] = [];
    for (let k = p.ringStart[r]; k < p.ringStart[r + 1]; k++)
      points.push([(originX + p.xy[2 * k]) / per, (originY + p.xy[2 * k + 1]) / per]);
    return [...points, points[0]];
  };
  const coordinates = Array.from({ length: Math.max(0, p.polygonStart.length - 1) }, (_, i) =>
    Array.from({ length: p.polygonStart[i + 1] - p.polygonStart[i] }, (_, k) => ring(p.polygonStart[i] + k)),
  );
  return { properties: l, geometry: { type: 'MultiPolygon', coordinates } };
}
