/**
 * The service worker: stores the page's own files, so that it opens offline once it was opened. Contacts no other origin.
 *
 * The build gives it the list of files. The page itself is requested first and served from the store when nothing answers; files with a
 * digest in their name always come from the store.
 */

/** Inserted by the build: the files of the page, and a digest of their names. */
const FILES: readonly string[] = JSON.parse('__OFFLINE_FILES__');
const CACHE = 'guessrow __OFFLINE_DIGEST__';

/** The part of a service worker's scope that is used here; the compiler's library for the page lacks it. */
interface Lasting extends Event {
  waitUntil(work: Promise<unknown>): void;
}
interface Asked extends Event {
  readonly request: Request;
  respondWith(answer: Promise<Response>): void;
}
const scope = self as unknown as EventTarget & { clients: { claim(): Promise<void> } };

/** The page's own files, and the list of samples where one is served, which names them. */
async function store(): Promise<void> {
  const cache = await caches.open(CACHE);
  await cache.addAll([...FILES]);
  await cache.add('./sample-data/index.json').catch(() => {});
}

scope.addEventListener('install', (event) => {
  (event as Lasting).waitUntil(store());
});

scope.addEventListener('activate', (event) => {
  const tidy = async (): Promise<void> => {
    const old = (await caches.keys()).filter((name) => name.startsWith('guessrow ') && name !== CACHE);
    await Promise.all(old.map((name) => caches.delete(name)));
    await scope.clients.claim();
  };
  (event as Lasting).waitUntil(tidy());
});

scope.addEventListener('fetch', (event) => {
  const { request } = event as Asked;
  const url = new URL(request.url);
  if (request.method !== 'GET' || url.origin !== location.origin) return;
  const fresh = request.mode === 'navigate' || /\/sample-data\//.test(url.pathname);
  (event as Asked).respondWith(fresh ? newest(request) : kept(request));
});

/** Files of the build carry a digest in their names: what is kept under a name is what is served under it. */
async function kept(request: Request): Promise<Response> {
  const cache = await caches.open(CACHE);
  return (await cache.match(request, { ignoreSearch: true })) ?? fetch(request);
}

/** The page itself and the samples: as served now, and as served last where nothing answers. */
async function newest(request: Request): Promise<Response> {
  const cache = await caches.open(CACHE);
  try {
    const response = await fetch(request);
    if (response.ok && request.mode !== 'navigate') await cache.put(request, response.clone());
    return response;
  } catch (error) {
    const held = await cache.match(request, { ignoreSearch: true });
    if (held) return held;
    const sheet = request.mode === 'navigate' ? await cache.match('./index.html') : undefined;
    if (sheet) return sheet;
    throw error;
  }
}
