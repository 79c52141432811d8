import { createHash } from 'node:crypto';
import { createReadStream, readdirSync, readFileSync, statSync } from 'node:fs';
import { join, normalize } from 'node:path';
import { fileURLToPath } from 'node:url';
import { defineConfig, type Plugin, type UserConfig } from 'vite';
import { DRAWING_STYLE } from './src/core/report/draw/index.ts';
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

/** The style of the drawings, which the written reports have inside, as a style sheet of the page: `import 'virtual:drawings.css'`. */
function drawingStyle(): Plugin {
  const name = 'virtual:drawings.css';
  return {
    name: 'drawing-style',
    resolveId: (id) => (id === name ? name : null),
    load: (id) => (id === name ? DRAWING_STYLE : null),
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

/** Comments of the source stay out of what is built, but for licenses and what bundlers read. */
const comments = { jsdoc: false };

const page: UserConfig = {
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
  plugins: [sampleData(), explanations(), drawingStyle(), policyWhileDeveloping(), noted.main, worksOffline()],
};

const { peerDependencies } = JSON.parse(readFileSync(new URL('package.json', import.meta.url), 'utf8'));

/** The command line for Node. The packages of a queue ("peerDependencies") are installed by those who use one; everything else that it needs is inside. */
const cli: UserConfig = {
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
      output: { ...lgplApart, comments, chunkFileNames: '[name].js' },
    },
  },
  plugins: [noted.main],
};

/** The library for Node and browsers, with everything it needs inside. Its types are written by the TypeScript compiler. */
const lib: UserConfig = {
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
    rolldownOptions: { output: { ...lgplApart, comments, entryFileNames: '[name].js', chunkFileNames: '[name].js' } },
  },
  plugins: [noted.main],
};

/** `vite build` makes the page, `--mode cli` the command, `--mode lib` the library. */
export default defineConfig(({ mode }) => (mode === 'cli' ? cli : mode === 'lib' ? lib : page));
