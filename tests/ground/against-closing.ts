import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { check, readPlanter } from '../../src/core/index.ts';
import { closeByGeos } from '../outside/closing.ts';
import { simulate } from '../simulator/index.ts';

/** One simulated map, measured here and by closing with GEOS. Square meters. */
export interface Compared {
  seed: number;
  kind: string;
  faults: string[];
  verdict: string;
  /** Gaps of the account without slivers of noise, and what GEOS finds. */
  gapM2: number;
  stripsM2: number;
  pocketsM2: number;
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

/** Checks the maps of these seeds and closes the same files with GEOS, in one process for all. */
export async function compareWithClosing(seeds: readonly number[], accuracyM: number): Promise<Compared[]> {
  const folder = mkdtempSync(join(tmpdir(), 'guessrow-closing-'));
  const jobs: Parameters<typeof closeByGeos>[0][number][] = [];
  const out: Omit<Compared, 'stripsM2' | 'pocketsM2'>[] = [];
  for (const seed of seeds) {
    const s = simulate(seed);
    const planter = readPlanter(s.planter, 'yard.planter.json');
    const { report } = await check({
      map: [named('map.geojson', s.map)],
      planter,
      planting: s.planting,
      passAccuracyM: accuracyM,
      ...(s.boundary === null ? {} : { boundary: [named('boundary.geojson', s.boundary)] }),
    });
    const map = join(folder, `${seed}.geojson`);
    writeFileSync(map, s.map);
    const boundary = join(folder, `${seed}.boundary.geojson`);
    if (s.boundary !== null) writeFileSync(boundary, s.boundary);
    const widthM = Math.max(report.recorded.workingWidthM ?? report.declared.workingWidthM, 0);
    jobs.push({ map, widthM, noiseM: 3 * accuracyM, ...(s.boundary === null ? {} : { boundary }) });
    const lines = report.account.filter((l) => l.picture === 'recorded');
    const sum = (fact: string): number => lines.filter((l) => l.fact === fact).reduce((a, l) => a + l.areaM2, 0);
    out.push({
      seed,
      kind: s.kind,
      faults: s.faults.map((f) => f.setting),
      verdict: report.verdict,
      gapM2: lines.filter((l) => l.fact === 'gap' && l.cause !== 'noise').reduce((a, l) => a + l.areaM2, 0),
      coveredM2: report.area.coveredM2,
      gapResidualM2: sum('gap') - report.area.gapM2,
      overlapResidualM2: sum('overlap') - report.area.overlapM2,
    });
  }
  const closed = closeByGeos(jobs);
  rmSync(folder, { recursive: true });
  return out.map((o, i) => ({ ...o, stripsM2: closed[i].stripsM2, pocketsM2: closed[i].pocketsM2 }));
}
