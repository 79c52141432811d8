import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { build } from 'vite';

const HERE = fileURLToPath(new URL('.', import.meta.url));

/**
 * A child process's program as the product is built: one file of plain JavaScript. Run from its source it would be slower, because the
 * loader wraps every inner function to keep its name. Returns the path of the file.
 */
export async function bundled(name: string): Promise<string> {
  const outDir = join(HERE, 'data', 'built', name);
  await build({
    configFile: false,
    logLevel: 'error',
    publicDir: false,
    ssr: { noExternal: true },
    build: { ssr: join(HERE, `${name}.ts`), outDir, emptyOutDir: true, target: 'node20', minify: false },
  });
  return join(outDir, `${name}.js`);
}
