import { defineConfig } from 'vite';
import { lgplApart, packagesNoted } from './src/supply/bundling.ts';

/** The library for Node and browsers, with everything it needs inside. Its types are written by the TypeScript compiler. */
export default defineConfig({
  publicDir: false,
  build: {
    lib: {
      entry: {
        guessrow: 'src/core/index.ts',
        worker: 'src/worker/client.ts',
        'worker-thread': 'src/worker/thread.ts',
      },
      formats: ['es'],
    },
    outDir: 'dist/lib',
    emptyOutDir: true,
    target: 'es2022',
    minify: false,
    rolldownOptions: { output: { ...lgplApart, entryFileNames: '[name].js', chunkFileNames: '[name].js' } },
  },
  plugins: [packagesNoted().main],
});
