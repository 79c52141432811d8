import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { check, readPlanter } from '../../src/core/index.ts';
import { type ClosingJob, closeByGeos } from '../outside/closing.ts';

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
  /** Gaps of the account without slivers of noise, and what GEOS finds. */
  gapM2: number;
  stripsM2: number;
  pocketsM2: number;
  droppedM2: number;
  /** Strips at least three working widths long. */
  longM2: number;
  coveredM2: number;
  /** Recorded lines less the area that the report gives, for gaps and for overlaps. */
  gapResidualM2: number;
  overlapResidualM2: number;
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

/** Checks the maps and closes the same files with GEOS, in one process for all. */
export async function compareWithClosing(maps: readonly MapToMeasure[], accuracyM: number): Promise<Compared[]> {
  const folder = mkdtempSync(join(tmpdir(), 'guessrow-closing-'));
  const jobs: ClosingJob[] = [];
  const out: Omit<Compared, 'stripsM2' | 'pocketsM2' | 'droppedM2' | 'longM2'>[] = [];
  for (const [i, m] of maps.entries()) {
    const { report } = await check({
      map: [named('map.geojson', m.map)],
      planter: readPlanter(m.planter, 'yard.planter.json'),
      planting: m.planting,
      passAccuracyM: accuracyM,
      ...(m.boundary === null ? {} : { boundary: [named('boundary.geojson', m.boundary)] }),
    });
    const map = join(folder, `${i}.geojson`);
    writeFileSync(map, m.map);
    const boundary = join(folder, `${i}.boundary.geojson`);
    if (m.boundary !== null) writeFileSync(boundary, m.boundary);
    const widthM = report.recorded.workingWidthM ?? report.declared.workingWidthM;
    jobs.push({ map, widthM, noiseM: 3 * accuracyM, ...(m.boundary === null ? {} : { boundary }) });
    const lines = report.account.filter((l) => l.picture === 'recorded');
    const sum = (fact: string): number => lines.filter((l) => l.fact === fact).reduce((a, l) => a + l.areaM2, 0);
    out.push({
      name: m.name,
      verdict: report.verdict,
      gapM2: lines.filter((l) => l.fact === 'gap' && l.cause !== 'noise').reduce((a, l) => a + l.areaM2, 0),
      coveredM2: report.area.coveredM2,
      gapResidualM2: sum('gap') - report.area.gapM2,
      overlapResidualM2: sum('overlap') - report.area.overlapM2,
    });
  }
  const closed = closeByGeos(jobs);
  rmSync(folder, { recursive: true });
  return out.map((o, i) => {
    const { stripsM2, pocketsM2, droppedM2, pieces } = closed[i];
    const long = pieces.filter((p) => p.kind === 'strip' && p.lengthM >= 3 * jobs[i].widthM);
    return { ...o, stripsM2, pocketsM2, droppedM2, longM2: long.reduce((a, p) => a + p.areaM2, 0) };
  });
}
