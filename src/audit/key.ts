import { createHash, type Hash } from 'node:crypto';
import { namedFile } from '../files.ts';
import { bytesFrom, type MapsFrom } from './source.ts';
import type { Job } from './types.ts';

/** Changes whenever the answers or the journal's shape change, so that an old journal is not used as a new one. */
export const EDITION = 'guessrow-audit/2';

/**
 * The identity of a field: SHA-256 over the contents of its files and every option that changes the answer. Names and places of
 * files are not in it, except the ending, which tells the reader what a part is. Throws `UserError` when a file cannot be read.
 *
 * For an address its validator counts (RFC 9110, section 8.8); a file without one is fetched.
 */
export async function keyOf(job: Job, from: MapsFrom | null): Promise<string> {
  const hash = createHash('sha256');
  const put = (text: string): void => void hash.update(`${Buffer.byteLength(text)}:${text}`);
  put(EDITION);
  put(job.planter);
  const s = job.settings;
  put(
    JSON.stringify([
      s.planting ?? null,
      s.layer ?? null,
      sorted(s.columns),
      s.passAccuracyM ?? null,
      s.seedCostPerHa ?? null,
      s.machineColumn ?? null,
      sorted(s.limits),
      (s.where ?? []).map((w) => [w.column, w.value]),
      s.dates ?? null,
      sorted(s.plantings),
      (s.planters ?? []).map((p) => [p.text, p.machine ?? null]),
      ...(s.crs === undefined ? [] : [s.crs]),
    ]),
  );
  for (const [kind, files] of [
    ['map', job.map],
    ['boundary', job.boundary],
  ] as const)
    for (const file of files) {
      put(`${kind} ${/\.[a-z0-9]+$/i.exec(file)?.[0].toLowerCase() ?? ''}`);
      put(await contents(file, from));
    }
  return hash.digest('hex');
}

const sorted = (o: object = {}): unknown => Object.entries(o).sort(([a], [b]) => (a < b ? -1 : 1));

async function contents(file: string, from: MapsFrom | null): Promise<string> {
  const tag = from?.url ? await from.validator(file) : null;
  if (tag !== null) return `validator ${file} ${tag}`;
  const hash: Hash = createHash('sha256');
  const bytes = from === null ? namedFile(file) : await bytesFrom(from, file);
  for await (const chunk of bytes.chunks()) hash.update(chunk);
  return hash.digest('hex');
}
