/** Writes `sample-data/` again: `npx tsx tests/generator/write-samples.ts`. The bytes do not change unless the generator does. */
import { mkdirSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { sampleFiles } from './sample-files.ts';

const folder = join(dirname(fileURLToPath(import.meta.url)), '..', '..', 'sample-data');
let total = 0;
for (const { path, bytes, records } of sampleFiles()) {
  const target = join(folder, path);
  mkdirSync(dirname(target), { recursive: true });
  writeFileSync(target, bytes);
  total += bytes.length;
  process.stdout.write(
    `${path}: ${(bytes.length / 1e6).toFixed(2)} MB${records === null ? '' : `, ${records} records`}\n`,
  );
}
process.stdout.write(`in all ${(total / 1e6).toFixed(1)} MB\n`);
