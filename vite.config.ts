import { createReadStream, statSync } from 'node:fs';
import { join, normalize } from 'node:path';
import { fileURLToPath } from 'node:url';
import { defineConfig, type Plugin } from 'vite';
import { lgplApart, packagesNoted } from './src/supply/bundling.ts';

const noted = packagesNoted();
const here = fileURLToPath(new URL('.', import.meta.url));

/** Serves the sample fields beside the page, as the built program does. */
function sampleData(): Plugin {
  return {
    name: 'sample-data',
    configureServer(server) {
      server.middlewares.use('/sample-data', (request, response, next) => {
        const path = decodeURIComponent((request.url ?? '').split('?')[0]);
        const file = join(here, 'sample-data', normalize(`/${path}`));
        if (!statSync(file, { throwIfNoEntry: false })?.isFile()) return next();
        createReadStream(file).pipe(response);
      });
    },
  };
}

/** The development server injects styles and talks over a socket; the page's own policy, which the built page keeps, forbids both. */
function policyWhileDeveloping(): Plugin {
  return {
    name: 'policy-while-developing',
    apply: 'serve',
    transformIndexHtml: (html) => html.replace(/<meta\s+http-equiv="Content-Security-Policy"[^>]*>/, ''),
  };
}

export default defineConfig({
  root: 'src/web',
  publicDir: '../../public',
  base: './',
  // No inlined data: addresses, so that every file of the page comes from its own origin and the policy can say so.
  build: {
    outDir: '../../dist/web',
    emptyOutDir: true,
    target: 'es2022',
    assetsInlineLimit: 0,
    chunkSizeWarningLimit: 1500,
  },
  worker: {
    format: 'es',
    plugins: () => [noted.worker],
    rolldownOptions: {
      output: {
        ...lgplApart,
        entryFileNames: 'assets/worker-[name]-[hash].js',
        chunkFileNames: 'assets/worker-[name]-[hash].js',
      },
    },
  },
  oxc: { jsx: { runtime: 'automatic', importSource: 'preact' } },
  plugins: [sampleData(), policyWhileDeveloping(), noted.main],
});
