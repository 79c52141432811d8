import { readFileSync } from 'node:fs';
import { defineConfig } from 'vite';
import { lgplApart, packagesNoted } from './src/supply/bundling.ts';

const { peerDependencies } = JSON.parse(readFileSync(new URL('package.json', import.meta.url), 'utf8'));

/** The command line for Node. The packages of a queue ("peerDependencies") are installed by those who use one; everything else that it needs is inside. */
export default defineConfig({
  publicDir: false,
  ssr: { noExternal: true, external: Object.keys(peerDependencies), target: 'node' },
  build: {
    ssr: true,
    outDir: 'dist/cli',
    emptyOutDir: true,
    target: 'node20',
    minify: false,
    // An audit checks fields in threads of their own, which start from a file of their own.
    rolldownOptions: {
      input: { guessrow: 'src/cli/guessrow.ts', 'audit-worker': 'src/audit/worker.ts' },
      output: { ...lgplApart, chunkFileNames: '[name].js' },
    },
  },
  plugins: [packagesNoted().main],
});
