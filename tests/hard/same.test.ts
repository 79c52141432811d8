import { spawnSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { unzipSync } from 'fflate';
import { afterAll, describe, expect, it } from 'vitest';
import { checkParallel, type Surveyor } from '../../src/core/check-parallel.ts';
import { named } from '../../src/core/intake/index.ts';
import { extentOf, planeFor } from '../../src/core/plane/index.ts';
import { readPlanter } from '../../src/core/planter/index.ts';
import { toCsv, toGeoJson, toJson } from '../../src/core/report/index.ts';
import { jobOf } from '../../src/core/steps/job.ts';
import { type Covered, coverSource, type Land, measureRecorded } from '../../src/core/steps/measure.ts';
import { readSource } from '../../src/core/steps/source.ts';
import { checkMap } from '../../src/worker/api.ts';
import { guessrow } from '../cli/run.ts';
import { makeZip } from '../intake/make-shapefile.ts';

interface Sample {
  id: string;
  map: string[];
  planter: string;
  planting: string;
}
const samples: Sample[] = JSON.parse(readFileSync('sample-data/index.json', 'utf8')).samples;
const folder = mkdtempSync(join(tmpdir(), 'guessrow-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const sha256 = (text: string): string => createHash('sha256').update(text).digest('hex');
/** Noise of the last bits, which another machine may round otherwise. */
const steady = (json: string): string => json.replace(/"residual": [^,\n]+/, '"residual": 0');
const argsOf = (
  s: Sample,
  format: string,
  map = `sample-data/${s.map[0]}`,
  planter = `sample-data/${s.planter}`,
): string[] => [...['check', map, '--planter', planter, '--planting', s.planting, '--format', format]];
const strips = samples.find((s) => s.id === 'test-strips-before') as Sample;

const written = new Map<Sample, Promise<string>>();
/** What the command line writes about a sample field, asked for once. */
const reportOf = (s: Sample): Promise<string> => {
  const known = written.get(s);
  if (known) return known;
  const asked = guessrow(...argsOf(s, 'json')).then(({ out, err }) => {
    expect(err).toBe('');
    return out;
  });
  written.set(s, asked);
  return asked;
};

describe('same in, same out', () => {
  /** Renew the hashes after an intended change of reports: `npx vitest run tests/hard/same.test.ts -u`. */
  it("the reports of the sample fields have the bytes that they had, from the page's worker as from the command line", async () => {
    const hashes: Record<string, string> = {};
    for (const s of samples) {
      const out = await reportOf(s);
      const bytes = readFileSync(`sample-data/${s.map[0]}`);
      const name = s.map[0].split('/').at(-1) as string;
      const planter = readPlanter(readFileSync(`sample-data/${s.planter}`, 'utf8'), s.planter);
      // What the page gets is copied by the browser from the worker to the page.
      const { answer } = structuredClone(
        await checkMap({ map: [new File([bytes], name)], planter, planting: s.planting }, { progress: () => {} }),
      );
      expect(toJson(answer)).toBe(out);
      if (s === strips) {
        expect(toGeoJson(answer)).toBe((await guessrow(...argsOf(s, 'geojson'))).out);
        expect(toCsv(answer)).toBe((await guessrow(...argsOf(s, 'csv'))).out);
      }
      hashes[s.id] = sha256(steady(out));
    }
    await expect(`${JSON.stringify(hashes, null, 2)}\n`).toMatchFileSnapshot('report-hashes.json');
  }, 180_000);

  it('with a second worker that measures ground, and with one that cannot', async () => {
    const quiet = { progress: () => {} };
    // What breaks does so before any map is looked at: one is enough to show that the answer stays.
    for (const s of samples) {
      const map = [named(s.map[0].split('/').at(-1) as string, readFileSync(`sample-data/${s.map[0]}`))];
      const planter = readPlanter(readFileSync(`sample-data/${s.planter}`, 'utf8'), s.planter);
      const input = { map, planter, planting: s.planting };
      const job = jobOf(input, quiet);
      const source = await readSource(input, job);
      const alone = await reportOf(s);
      expect(toJson(await checkParallel(source, job, second()))).toBe(alone);
      const broken: Surveyor = { cover: async () => null, measure: async () => null };
      if (s === strips) expect(toJson(await checkParallel(source, job, broken))).toBe(alone);
    }

    /** As `worker/helper.ts`: all that goes from one worker to the other is copied. */
    function second(): Surveyor {
      let land: Land;
      let covered: Covered;
      const plane = () => planeFor(land.records.lattice, extentOf(land.records.shapes));
      return {
        async cover({ records: { shapes, lattice }, boundary }) {
          land = structuredClone({ records: { shapes, lattice }, boundary });
          covered = coverSource(land, plane(), quiet);
          return structuredClone(covered);
        },
        async measure({ plane: _, ...field }, accuracyM) {
          const own = { ...structuredClone(field), plane: plane() };
          return structuredClone(measureRecorded(land.records, own, covered, { accuracyM }));
        },
      };
    }
  }, 180_000);

  it('in two time zones and three locales, in processes of their own', () => {
    const run = (format: string, env: Record<string, string>): string => {
      const r = spawnSync(process.execPath, ['--import', 'tsx', 'src/cli/guessrow.ts', ...argsOf(strips, format)], {
        encoding: 'utf8',
        env: { PATH: process.env.PATH ?? '', ...env },
        maxBuffer: 1 << 28,
      });
      expect([r.stderr, r.status]).toEqual(['', 1]);
      return sha256(r.stdout);
    };
    const places: Record<string, string>[] = [
      { TZ: 'UTC', LC_ALL: 'C', LANG: 'C' },
      { TZ: 'Pacific/Chatham', LC_ALL: 'de_DE.UTF-8', LANG: 'de_DE.UTF-8' },
      { TZ: 'America/Chicago', LC_ALL: 'tr_TR.UTF-8', LANG: 'tr_TR.UTF-8' },
    ];
    for (const format of ['json', 'text']) {
      const said = places.map((env) => run(format, env));
      expect(said).toEqual([said[0], said[0], said[0]]);
    }
  }, 180_000);

  it('whatever ends the lines of the files', async () => {
    const map = JSON.stringify(JSON.parse(readFileSync(`sample-data/${strips.map[0]}`, 'utf8')), null, 1);
    const planter = JSON.stringify(JSON.parse(readFileSync(`sample-data/${strips.planter}`, 'utf8')), null, 2);
    const said: string[] = [];
    for (const end of ['\n', '\r\n', '\r']) {
      const [m, p] = [join(folder, 'before.geojson'), join(folder, 'test-strips.planter.json')];
      writeFileSync(m, map.replaceAll('\n', end));
      writeFileSync(p, planter.replaceAll('\n', end));
      said.push((await guessrow(...argsOf(strips, 'json', m, p))).out);
    }
    const out = await reportOf(strips);
    expect(said).toEqual([out, out, out]);
  });

  it('packed hard or only stored', async () => {
    const s = samples.find((x) => x.map[0].endsWith('.zip')) as Sample;
    const stored = join(folder, s.map[0].split('/').at(-1) as string);
    writeFileSync(stored, makeZip(unzipSync(readFileSync(`sample-data/${s.map[0]}`)), 0));
    expect((await guessrow(...argsOf(s, 'json', stored))).out).toBe(await reportOf(s));
  }, 120_000);
});
