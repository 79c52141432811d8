import { closeSync, createReadStream, existsSync, fstatSync, readFileSync, realpathSync, statSync } from 'node:fs';
import { createServer, type IncomingMessage, type Server, type ServerResponse } from 'node:http';
import type { AddressInfo } from 'node:net';
import { extname, join, sep } from 'node:path';
import { pipeline } from 'node:stream';
import { fileURLToPath } from 'node:url';
import { listWords } from '../core/planter/index.ts';
import { UserError } from '../core/shared/messages.ts';
import { openPlain } from '../files.ts';
import type { Io } from './io.ts';
import type { Parsed, Spec } from './options.ts';

const FIRST_PORT = 4719;

export const SERVE_OPTIONS: Spec = {
  port: { value: 'N', says: `the port; ${FIRST_PORT} or the next free one when left out` },
  sample: { value: 'NAME', says: 'print the address that opens this sample' },
};

const MIME: Readonly<Record<string, string>> = {
  '.html': 'text/html; charset=utf-8',
  '.js': 'text/javascript; charset=utf-8',
  '.mjs': 'text/javascript; charset=utf-8',
  '.css': 'text/css; charset=utf-8',
  '.json': 'application/json; charset=utf-8',
  '.geojson': 'application/geo+json; charset=utf-8',
  '.txt': 'text/plain; charset=utf-8',
  '.svg': 'image/svg+xml; charset=utf-8',
  '.png': 'image/png',
  '.ico': 'image/x-icon',
  '.woff2': 'font/woff2',
  '.webmanifest': 'application/manifest+json',
  '.zip': 'application/zip',
  '.map': 'application/json; charset=utf-8',
};

/** The page loads nothing from elsewhere and contacts no other host: a map that is opened in it stays on this computer. */
const POLICY = [
  "default-src 'none'",
  // A GeoPackage is read by SQLite as WebAssembly, in the worker.
  "script-src 'self' 'wasm-unsafe-eval'",
  "worker-src 'self' blob:",
  "style-src 'self'",
  "img-src 'self' data: blob:",
  "font-src 'self'",
  "connect-src 'self'",
  "manifest-src 'self'",
  "base-uri 'none'",
  "form-action 'none'",
  "frame-ancestors 'none'",
].join('; ');

/** Folders that are served: the built page, and the sample fields under /sample-data/. */
interface Served {
  web: string;
  samples: string;
}

/** Both folders of this installation, seen from the built command or from its source. */
export function servedHere(): Served {
  const root = fileURLToPath(new URL('../..', import.meta.url));
  return { web: join(root, 'dist', 'web'), samples: join(root, 'sample-data') };
}

/** `guessrow serve`: serves the page on this computer alone until it is stopped. */
export async function runServe(args: Parsed, io: Io): Promise<number> {
  const folders = servedHere();
  const port = args.values.port;
  if (port !== undefined && !(/^\d{1,5}$/.test(port) && Number(port) <= 65_535))
    throw new UserError(
      'option-value',
      `"${port}" is not a port.`,
      {},
      'Write a number from 1 to 65535, or 0 for any free one.',
    );
  const { sample: wanted } = args.values;
  if (wanted !== undefined) refuseUnknown(wanted, folders.samples);
  if (!existsSync(join(folders.web, 'index.html')))
    throw new UserError(
      'not-built',
      'The page is not built yet.',
      {},
      'Run "npm start" once; it builds the page and serves it.',
    );
  const server = await listen(folders, port === undefined ? null : Number(port));
  const { port: got } = server.address() as AddressInfo;
  const sample = wanted === undefined ? '' : `?sample=${encodeURIComponent(wanted)}`;
  await io.out(`Open http://127.0.0.1:${got}/${sample}\nOnly this computer can reach it. Stop with Ctrl+C.\n`);
  await new Promise<void>((resolve) => io.onStop(resolve));
  server.closeAllConnections();
  await new Promise<void>((resolve) => server.close(() => resolve()));
  return 0;
}

/** A sample that is not served would only be missed in the page, after the browser was opened. */
function refuseUnknown(sample: string, folder: string): void {
  const index = join(folder, 'index.json');
  const names = existsSync(index)
    ? (JSON.parse(readFileSync(index, 'utf8')) as { samples: { id: string }[] }).samples.map((s) => s.id)
    : [];
  if (names.includes(sample)) return;
  throw new UserError(
    'option-value',
    `There is no sample "${sample}".`,
    {},
    names.length > 0
      ? `The samples are ${listWords(names)}.`
      : 'This installation holds no samples; leave "--sample" out.',
  );
}

/** A server on the loopback address: on `port`, or with null on the first free one from `FIRST_PORT`. */
export async function listen(folders: Served, port: number | null): Promise<Server> {
  const server = createServer((request, response) => answer(request, response, folders));
  const tries = port === null ? 20 : 1;
  for (let i = 0; i < tries; i++) {
    const wanted = port ?? FIRST_PORT + i;
    try {
      await new Promise<void>((resolve, reject) => {
        server.once('error', reject);
        server.listen(wanted, '127.0.0.1', () => {
          server.off('error', reject);
          resolve();
        });
      });
      return server;
    } catch (e) {
      const code = (e as NodeJS.ErrnoException).code;
      if (code !== 'EADDRINUSE' && code !== 'EACCES') throw e;
      if (i === tries - 1)
        throw new UserError(
          'port',
          `Port ${wanted} is ${code === 'EACCES' ? 'not allowed' : 'taken'}.`,
          {},
          'Choose another with "--port N", or 0 for any free one.',
        );
    }
  }
  throw new Error('no port was tried');
}

function answer(request: IncomingMessage, response: ServerResponse, folders: Served): void {
  const { port } = request.socket.address() as AddressInfo;
  const refused = refusal(request, port);
  const found = refused ? null : openFor(request.url ?? '/', folders);
  if (refused || found === null) {
    const [status, text] = refused ?? [404, 'There is no such page.'];
    response.writeHead(status, { ...COMMON, 'Content-Type': 'text/plain; charset=utf-8' });
    response.end(request.method === 'HEAD' ? undefined : `${text}\n`);
    return;
  }
  response.writeHead(200, {
    ...COMMON,
    'Content-Type': MIME[extname(found.path).toLowerCase()] ?? 'application/octet-stream',
    'Content-Length': found.size,
  });
  if (request.method === 'HEAD') {
    closeSync(found.fd);
    response.end();
    return;
  }
  // A reader that goes away takes the file's descriptor along; a file that is cut meanwhile ends the answer short, which the reader notices.
  const end = Math.max(0, found.size - 1);
  pipeline(found.size === 0 ? [] : createReadStream('', { fd: found.fd, end }), response, () => {
    if (found.size === 0) closeSync(found.fd);
  });
}

/** A file that is open: what its size says holds for what is sent, whatever happens to its name. */
interface Found {
  path: string;
  fd: number;
  size: number;
}

/** Opens the file for an address; null where there is none, or none any more. */
function openFor(url: string, folders: Served): Found | null {
  const path = fileFor(url, folders);
  if (path === null) return null;
  try {
    const fd = openPlain(path);
    return fd === null ? null : { path, fd, size: fstatSync(fd).size };
  } catch {
    return null;
  }
}

/** Why a request is not answered: a foreign name that was made to point at this computer must not read what is served here. */
function refusal(request: IncomingMessage, port: number): [number, string] | null {
  const host = request.headers.host?.toLowerCase();
  if (host !== `127.0.0.1:${port}` && host !== `localhost:${port}`)
    return [421, 'This address is served to this computer only.'];
  if (request.method !== 'GET' && request.method !== 'HEAD') return [405, 'Only reading is possible here.'];
  return null;
}

const COMMON = {
  'Content-Security-Policy': POLICY,
  'X-Content-Type-Options': 'nosniff',
  'Referrer-Policy': 'no-referrer',
  'Cross-Origin-Resource-Policy': 'same-origin',
  'Cross-Origin-Opener-Policy': 'same-origin',
  'Cache-Control': 'no-cache',
} as const;

/** The file for an address, or null. Nothing outside the two folders is ever found, by dots, by encoding or by link; nor hidden files. */
export function fileFor(url: string, folders: Served): string | null {
  let path: string;
  try {
    path = decodeURIComponent(url.split(/[?#]/)[0]);
  } catch {
    return null;
  }
  const parts = path.split('/').filter((p) => p !== '');
  if (!path.startsWith('/') || parts.some((p) => p.startsWith('.') || /[\\:\0]/.test(p))) return null;
  const inSamples = parts[0] === 'sample-data';
  const root = inSamples ? folders.samples : folders.web;
  const inside = inSamples ? parts.slice(1) : parts;
  const wanted = join(root, ...(inside.length === 0 ? ['index.html'] : inside));
  try {
    const real = realpathSync(wanted);
    return real.startsWith(realpathSync(root) + sep) && statSync(real).isFile() ? real : null;
  } catch {
    return null;
  }
}
