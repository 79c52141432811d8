import { createHash } from 'node:crypto';
import { createReadStream, readdirSync, statSync } from 'node:fs';
import { join, normalize } from 'node:path';
import { fileURLToPath } from 'node:url';
import { defineConfig, type Plugin } from 'vite';
import { explainHtml, HTML_STYLE } from './src/core/report/index.ts';
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

/** The explanations of the settings as a page beside the sheet, from the same texts as the program's. Its style is a file, for the policy allows no other. */
function explanations(): Plugin {
  const files = { 'explain.html': explainHtml('explain.css'), 'explain.css': HTML_STYLE };
  return {
    name: 'explanations',
    buildStart() {
      if (this.environment.mode !== 'build') return;
      for (const [fileName, source] of Object.entries(files)) this.emitFile({ type: 'asset', fileName, source });
    },
    configureServer(server) {
      for (const [name, text] of Object.entries(files))
        server.middlewares.use(`/${name}`, (_request, response) => {
          response.setHeader('Content-Type', name.endsWith('.css') ? 'text/css' : 'text/html; charset=utf-8');
          response.end(text);
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

/** The service worker, told which files the page consists of. It lies beside the page, for its reach is its own folder. */
function worksOffline(): Plugin {
  return {
    name: 'works-offline',
    apply: 'build',
    enforce: 'post',
    buildStart() {
      this.emitFile({ type: 'chunk', id: join(here, 'src/web/offline.ts'), fileName: 'offline.js' });
    },
    generateBundle(_options, bundle) {
      const own = readdirSync(join(here, 'public'), { withFileTypes: true }).filter((f) => f.isFile());
      const files = [...Object.keys(bundle), ...own.map((f) => f.name)]
        .filter((name) => name !== 'offline.js' && !name.endsWith('.map'))
        .map((name) => `./${name}`)
        .sort();
      const digest = createHash('sha256').update(files.join('\n')).digest('hex').slice(0, 16);
      const worker = bundle['offline.js'];
      if (worker?.type !== 'chunk') throw new Error('the service worker was not built');
      worker.code = worker.code
        .replace('__OFFLINE_FILES__', JSON.stringify(files))
        .replace('__OFFLINE_DIGEST__', digest);
    },
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
  plugins: [sampleData(), explanations(), policyWhileDeveloping(), noted.main, worksOffline()],
});
