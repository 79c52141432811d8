import { realpathSync, statSync } from 'node:fs';
import { join, sep } from 'node:path';
import { type NamedBytes, named } from '../core/intake/index.ts';
import { UserError } from '../core/messages.ts';
import { namedFile } from '../files.ts';

/** Where maps lie: below a folder of this machine, or below an address that answers plain GET requests, as object stores do. */
export interface MapsFrom {
  folder: string | null;
  url: URL | null;
  /** Largest map that is fetched, bytes. It is held in memory. */
  maxBytes: number;
  /** The validator of an address, or null when it gives none. */
  validator(name: string): Promise<string | null>;
}

const WAIT_MS = 60_000;

/** A folder or an http(s) address as a place of maps. Throws `UserError` when it is neither. */
export function mapsFrom(text: string, maxBytes: number): MapsFrom {
  if (/^https?:\/\//i.test(text)) {
    const url = URL.canParse(text) ? new URL(text) : null;
    if (url === null || url.search !== '' || url.hash !== '')
      throw new UserError(
        'option-value',
        'The address for "--maps-from" cannot be used.',
        {},
        'Write http(s)://HOST/FOLDER/ without a "?" or "#".',
      );
    if (!url.pathname.endsWith('/')) url.pathname += '/';
    return { folder: null, url, maxBytes, validator: (name) => validatorOf(addressOf(url, name)) };
  }
  let folder: string;
  try {
    folder = realpathSync(text);
  } catch {
    throw new UserError('no-folder', `There is no folder "${text}".`, {}, 'Check the name after "--maps-from".');
  }
  if (!statSync(folder).isDirectory())
    throw new UserError(
      'not-a-folder',
      `"${text}" is a file, not a folder.`,
      {},
      'Name the folder of the maps after "--maps-from".',
    );
  return { folder, url: null, maxBytes, validator: async () => null };
}

// biome-ignore lint/suspicious/noControlCharactersInRegex: they are what is refused
const REFUSED = /[\\\u0000-\u001F]/;
/** Windows takes ":" for a drive or a stream, and has no names with the others. */
// biome-ignore lint/suspicious/noControlCharactersInRegex: they are what is refused
const REFUSED_BY_WINDOWS = /[\\:*?"<>|\u0000-\u001F]/;

/**
 * Why a name does not stay below its root, or is none there: parts between slashes, none of them hidden or upward, without what is special to
 * the file system (`windows`: to that of Windows). Null when nothing is wrong with it.
 */
export function nameFault(name: string, windows = sep === '\\'): { sentence: string; todo: string } | null {
  const parts = name.split('/');
  if (parts.some((p) => p === '' || p === '.' || p === '..'))
    return {
      sentence: 'The file does not lie below "--maps-from".',
      todo: 'Workers on other machines find it only there.',
    };
  const todo = 'Give it another name.';
  if (parts.some((p) => p.startsWith('.')))
    return { sentence: 'Files and folders whose names begin with a dot are not handed to workers.', todo };
  const [odd] = (windows ? REFUSED_BY_WINDOWS : REFUSED).exec(name) ?? [];
  if (odd !== undefined) {
    const what = odd < ' ' ? 'a control character' : `"${odd}"`;
    return { sentence: `Names with ${what} are not handed to workers.`, todo };
  }
  return name.length > 1000 ? { sentence: 'The name and its folders have more than 1000 characters.', todo } : null;
}

/** Whether it is a name that stays below its root. */
export function isBelow(name: unknown, windows?: boolean): name is string {
  return typeof name === 'string' && nameFault(name, windows) === null;
}

/** The file `name` below `from`. Throws `UserError` when it lies outside, is not there or is too large. */
export async function bytesFrom(from: MapsFrom, name: string): Promise<NamedBytes> {
  // An address takes any character, encoded.
  if (!isBelow(name, from.url ? false : undefined))
    throw new UserError(
      'outside',
      'The name of the file leads out of the folder of the maps, or cannot stand in it.',
      {},
      'Name it by its path below "--maps-from", with "/" between folders.',
    );
  if (from.url) return fetched(addressOf(from.url, name), name, from.maxBytes);
  const path = join(from.folder!, ...name.split('/'));
  let real: string;
  try {
    real = realpathSync(path);
  } catch {
    throw new UserError(
      'no-file',
      `There is no file "${name}" below the folder of the maps.`,
      {},
      'Is this the same folder as the one that the audit was started with?',
    );
  }
  if (!real.startsWith(from.folder!.endsWith(sep) ? from.folder! : from.folder! + sep))
    throw new UserError(
      'outside',
      `"${name}" is a link out of the folder of the maps.`,
      {},
      'Put the file itself there.',
    );
  return namedFile(path);
}

function addressOf(base: URL, name: string): URL {
  return new URL(name.split('/').map(encodeURIComponent).join('/'), base);
}

/** Network trouble is no `UserError`: the queue tries again, and says so when it gives up. A plain "not there" is. */
async function fetched(url: URL, name: string, maxBytes: number): Promise<NamedBytes> {
  const answer = await ask(url, 'GET');
  if (!answer.ok) {
    await answer.body?.cancel();
    refuse(answer.status, name);
  }
  const tooLarge = new UserError(
    'file-size',
    `The map is larger than ${Math.round(maxBytes / 1e6)} MB.`,
    { file: name },
    'Raise "--max-map-mb" where there is memory for it.',
  );
  if (Number(answer.headers.get('content-length') ?? 0) > maxBytes) {
    await answer.body?.cancel();
    throw tooLarge;
  }
  const parts: Uint8Array[] = [];
  let size = 0;
  for await (const part of answer.body ?? []) {
    size += part.byteLength;
    if (size > maxBytes) throw tooLarge;
    parts.push(part);
  }
  return named(name.split('/').pop()!, Buffer.concat(parts));
}

async function validatorOf(url: URL): Promise<string | null> {
  const answer = await ask(url, 'HEAD');
  if (!answer.ok) return null;
  const tag = answer.headers.get('etag');
  // A weak validator may stand for two contents.
  return tag === null || tag.startsWith('W/') ? null : tag;
}

/** One request. No other address is followed: the maps lie where the user said, and nowhere else. */
async function ask(url: URL, method: 'GET' | 'HEAD'): Promise<Response> {
  try {
    // A connection that was kept may have been closed meanwhile: each request has its own.
    const headers = { Connection: 'close' };
    return await fetch(url, { method, headers, redirect: 'manual', signal: AbortSignal.timeout(WAIT_MS) });
  } catch (e) {
    const cause = (e as { cause?: { code?: string } }).cause?.code ?? (e as Error).name;
    throw new Error(`the address of the maps does not answer (${cause})`);
  }
}

function refuse(status: number, name: string): never {
  const todo: Readonly<Record<number, string>> = {
    401: 'Ask for the right to read it.',
    403: 'Ask for the right to read it.',
    404: 'Check the name.',
    410: 'Check the name.',
  };
  const moved = status >= 300 && status < 400 ? 'Give the address to which it leads.' : undefined;
  const then = todo[status] ?? moved;
  if (then === undefined) throw new Error(`the address of the maps answers ${status} for "${name}"`);
  throw new UserError('no-file', `The address of the maps answers ${status} for "${name}".`, {}, then);
}
