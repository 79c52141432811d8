/**
 * The coverage engine beside native GEOS and general libraries, in one run: interleaved rounds, medians, every answer compared.
 * `npx tsx tests/bench/coverage.ts` prints the tables and keeps them in coverage.md; `coverageTables` is for a larger bench.
 */
import { type ChildProcessWithoutNullStreams, execFileSync, spawn } from 'node:child_process';
import { existsSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface, type Interface } from 'node:readline';
import { fileURLToPath, pathToFileURL } from 'node:url';
import { bundled } from './bundle.ts';
import { type BenchMap, benchMap } from './coverage-map.ts';
import { clipper, jsts, type PeerRun, polyclip, turf } from './coverage-peers.ts';

export interface CoverageBenchOptions {
  rounds?: number;
  /** Records of the large maps: corners shared, rectangles, and the sizes for the growth. */
  shared?: number;
  rectangles?: number;
  growth?: number[];
  /** Records of the maps for the general libraries. */
  peers?: number[];
  say?: (line: string) => void;
}

interface ChildRun {
  ms: number;
  count: number;
  covered: number;
  overlap: number;
  rings: number | null;
  holes: number | null;
  extraMb: number;
}

const HERE = fileURLToPath(new URL('.', import.meta.url));
const CHILD = await bundled('coverage-child');

function child(what: 'measure' | 'cover' | 'warm', records: number, rectangles: boolean): ChildRun {
  const args = [CHILD, what, String(records), rectangles ? 'rectangles' : 'shared'];
  return JSON.parse(execFileSync(process.execPath, args, { encoding: 'utf8', cwd: join(HERE, '../..') })) as ChildRun;
}

interface GeosAnswer {
  ms: number;
  area: number;
  failed?: number;
  error?: string;
}

/** GEOS in a Python process of its own, asked line by line. */
class Geos {
  private readonly process: ChildProcessWithoutNullStreams;
  private readonly lines: Interface;
  private waiting: ((line: string) => void)[] = [];
  private readonly folder = mkdtempSync(join(tmpdir(), 'coverage-bench-'));

  constructor() {
    this.process = spawn('/usr/bin/python3', [join(HERE, 'coverage-geos.py')]);
    this.process.stderr.on('data', (d: Buffer) => process.stderr.write(d));
    this.lines = createInterface({ input: this.process.stdout });
    this.lines.on('line', (l) => this.waiting.shift()?.(l));
    this.process.on('exit', () => {
      for (const w of this.waiting.splice(0)) w('{"error":"the process ended"}');
    });
  }

  /** The reason why GEOS cannot run here, or nothing. */
  static missing(): string | undefined {
    if (!existsSync('/usr/bin/python3')) return '/usr/bin/python3 is missing';
    try {
      execFileSync('/usr/bin/python3', ['-c', 'import shapely, ctypes; ctypes.CDLL("libgeos_c.so.1")'], {
        stdio: 'pipe',
      });
      return undefined;
    } catch {
      return 'Debian package python3-shapely is not installed';
    }
  }

  private ask(line: string): Promise<GeosAnswer> {
    return new Promise((resolve) => {
      this.waiting.push((l) => resolve(JSON.parse(l) as GeosAnswer));
      this.process.stdin.write(`${line}\n`);
    });
  }

  async read(map: BenchMap): Promise<void> {
    const sizes = Array.from(map.passStart.subarray(1), (v, i) => v - map.passStart[i]);
    const data = Int32Array.of(sizes.length, ...sizes);
    const file = join(this.folder, 'map.bin');
    writeFileSync(file, Buffer.concat([Buffer.from(data.buffer), Buffer.from(map.shapes.xy.buffer)]));
    const answer = await this.ask(`read ${file}`);
    if (answer.error) throw new Error(answer.error);
  }

  union(): Promise<GeosAnswer> {
    return this.ask('union');
  }

  passes(): Promise<GeosAnswer> {
    return this.ask('passes');
  }

  end(): void {
    this.process.stdin.end();
    rmSync(this.folder, { recursive: true, force: true });
  }
}

function median(v: readonly number[]): number {
  const s = [...v].sort((a, b) => a - b);
  return s.length % 2 ? s[s.length >> 1] : (s[s.length / 2 - 1] + s[s.length / 2]) / 2;
}

const seconds = (ms: number): string => (ms < 1000 ? `${ms.toFixed(0)} ms` : `${(ms / 1000).toFixed(2)} s`);
const difference = (a: number, b: number): string => Math.abs(a / b - 1).toExponential(1);

/** Everything as lines of Markdown. */
export async function coverageTables(options: CoverageBenchOptions = {}): Promise<string[]> {
  const {
    rounds = 5,
    shared = 400_000,
    rectangles = 100_000,
    growth = [20_000, 100_000, 2_000_000],
    peers = [2000, 20_000],
    say = () => {},
  } = options;
  const out: string[] = [];
  const why = Geos.missing();
  if (why) out.push(`**GEOS was not run: ${why}.** Rows beside it are left out.`, '');
  const geos = why ? null : new Geos();
  try {
    const rows: string[] = [];
    const smaller: ChildRun[] = [];
    for (const [records, rect] of [
      [shared, false],
      [rectangles, true],
    ] as const) {
      const map = benchMap(records, rect);
      await geos?.read(map);
      const t = { measure: [] as number[], cover: [] as number[], union: [] as number[] };
      const pairs = { cover: [] as number[], warm: [] as number[], passes: [] as number[] };
      let m: ChildRun | undefined;
      let c: ChildRun | undefined;
      let g: GeosAnswer | undefined;
      let p: GeosAnswer | undefined;
      for (let r = 0; r < rounds; r++) {
        const own = { measure: [] as number[], cover: [] as number[] };
        // A second of ours says little on a machine that is now fast and now slow, and the union takes twenty: three to a round.
        for (let k = 0; k < 3; k++) {
          m = child('measure', records, rect);
          c = child('cover', records, rect);
          own.measure.push(m.ms);
          own.cover.push(c.ms);
          if (!geos || rect) continue;
          p = await geos.passes();
          if (p.error) continue;
          pairs.cover.push(c.ms);
          pairs.warm.push(child('warm', records, rect).ms);
          pairs.passes.push(p.ms);
        }
        t.measure.push(median(own.measure));
        t.cover.push(median(own.cover));
        if (geos) {
          g = await geos.union();
          if (!g.error) t.union.push(g.ms);
        }
        say(
          `${records} ${rect ? 'rectangles' : 'shared'} round ${r + 1}: ${JSON.stringify({ ...own, union: g?.ms, passes: pairs.passes.slice(-3) })}`,
        );
      }
      smaller.push(c!);
      const name = `${map.count.toLocaleString('en')} ${rect ? 'independent rectangles' : 'records with shared corners'}`;
      const line = (
        what: string,
        ours: number[],
        beside: string,
        theirs: number[],
        goal: string,
        check: string,
      ): void => {
        // Round by round, or pair by pair, so that what else ran on the machine weighs on both.
        const part = median(ours.map((v, r) => v / (theirs[r] ?? Number.NaN)));
        const ratio = theirs.length === ours.length ? `${part.toFixed(4)} (1/${(1 / part).toFixed(1)})` : 'failed';
        rows.push(
          `| ${what}, ${name} | ${seconds(median(ours))} | ${beside} | ${theirs.length > 0 ? seconds(median(theirs)) : 'failed'} | ${ratio} | ${goal} | ${check} |`,
        );
      };
      if (g) {
        const areas = `covered ${difference(m!.covered, g.area)}`;
        if (!rect)
          line('areas at every depth and already covered', t.measure, 'GEOS unary_union', t.union, '1/25', areas);
        line(
          'the same and covered and overlap polygons',
          t.cover,
          'GEOS unary_union',
          t.union,
          rect ? '1/5' : '1/12',
          `covered ${difference(c!.rings ?? 0, g.area)}`,
        );
        if (p)
          line(
            'the same',
            pairs.cover,
            `GEOS coverage union per pass, then union (union only; ${p.failed} passes refused)`,
            pairs.passes,
            'at most 1.5',
            `covered ${difference(c!.rings ?? 0, p.area)}`,
          );
        if (p)
          line(
            'the same in a warm process, which GEOS runs in',
            pairs.warm,
            'the same',
            pairs.passes,
            '',
            `covered ${difference(c!.rings ?? 0, p.area)}`,
          );
      } else rows.push(`| all, ${name} | ${seconds(median(t.cover))} | - | - | - | - | - |`);
    }
    out.push(
      '| what | time | beside | its time | ratio | must reach | relative difference of areas |',
      '|---|---|---|---|---|---|---|',
      ...rows,
      '',
    );

    out.push(
      '| beside, as its user would call it | records | its time | areas, depths and polygons in a fresh process | relative difference of the covered area |',
      '|---|---|---|---|---|',
    );
    for (const records of peers) {
      for (const rect of [false, true]) {
        const map = benchMap(records, rect);
        const ours = child('cover', records, rect);
        const runs: [string, () => PeerRun | Promise<PeerRun>][] = [
          ['@turf/turf union (sphere: not to measure with)', () => turf(map)],
          ['JSTS CascadedPolygonUnion', () => jsts(map)],
          ['polyclip-ts union', () => polyclip(map)],
          ['clipper2-wasm Union64, 1000 to the step', () => clipper(map)],
        ];
        for (const [name, run] of runs) {
          const size = `${map.count.toLocaleString('en')} ${rect ? 'rectangles' : 'shared'}`;
          try {
            const got = await run();
            out.push(
              `| ${name} | ${size} | ${seconds(got.ms)} | ${seconds(ours.ms)} | ${Number.isNaN(got.area) ? '-' : difference(got.area, ours.covered)} |`,
            );
          } catch (e) {
            out.push(
              `| ${name} | ${size} | **fails: ${((e instanceof Error && e.message) || String(e)).split('\n')[0].slice(0, 70)}** | ${seconds(ours.ms)} | - |`,
            );
          }
          say(out.at(-1)!);
        }
      }
    }

    out.push(
      '',
      '| records | areas | areas and polygons | memory beyond the map, MB | covered area, square steps | holes |',
      '|---|---|---|---|---|---|',
    );
    const sizes = [...growth, shared].sort((a, b) => a - b);
    const grown = sizes.map((records) => {
      const few = Array.from({ length: 3 }, () => ({
        m: child('measure', records, false),
        c: child('cover', records, false),
      }));
      const c = few[0].c;
      const result = { n: c.count, m: median(few.map((f) => f.m.ms)), c: median(few.map((f) => f.c.ms)) };
      out.push(
        `| ${c.count.toLocaleString('en')} | ${seconds(result.m)} | ${seconds(result.c)} | ${c.extraMb.toFixed(0)} | ${c.covered.toFixed(3)} | ${c.holes} |`,
      );
      say(out.at(-1)!);
      return result;
    });
    const [a, z] = [grown[0], grown[grown.length - 1]];
    const exponent = (k: 'm' | 'c'): string => (Math.log(z[k] / a[k]) / Math.log(z.n / a.n)).toFixed(2);
    out.push(
      '',
      `Growth from ${a.n.toLocaleString('en')} to ${z.n.toLocaleString('en')} records: areas n^${exponent('m')}, areas and polygons n^${exponent('c')} (must reach n^1.1; start-up of the fresh process is in the smaller ones).`,
    );
  } finally {
    geos?.end();
  }
  return out;
}

if (process.argv[1] && import.meta.url === pathToFileURL(process.argv[1]).href) {
  const quick = process.argv.includes('--quick');
  const lines = await coverageTables({
    ...(quick ? { rounds: 1, shared: 20_000, rectangles: 20_000, growth: [5000], peers: [500] } : {}),
    say: (l) => console.error(l),
  });
  const text = [
    '# Coverage beside other engines',
    '',
    'Machine: 2 shared cores, Node 20, GEOS of Debian 12. The cores are now fast and now slow: compare ratios, not times.',
    'Map (`coverage-map.ts`, seed 1): two headland laps, straight and curved passes, 16 sections, 2 cm wander, 1e-7 degree. Our times are each of a fresh',
    'process, cold; GEOS ran in one warm process, the building of its geometries left out. Rounds interleaved, three of ours and of the union by',
    'passes to one whole union; medians, and the ratio is the median of the ratios of each round (or pair).',
    '',
    ...lines,
    '',
  ].join('\n');
  console.log(text);
  if (!quick) writeFileSync(join(HERE, 'coverage.md'), text);
}
