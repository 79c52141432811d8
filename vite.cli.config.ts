import { defineConfig } from 'vite';

/** The command line as one file for Node, with everything it needs inside. */
export default defineConfig({
  publicDir: false,
  ssr: { noExternal: true, target: 'node' },
  build: { ssr: 'src/cli/guessrow.ts', outDir: 'dist/cli', emptyOutDir: true, target: 'node20', minify: false },
});
