import { realpathSync, statSync } from 'node:fs';
import { join, sep } from 'node:path';
import { type NamedBytes, named } from '../core/intake/index.ts';
import { UserError } from '../core/shared/messages.ts';
import { namedFile } from '../files.ts';

/** Where maps lie: below a folder of this machine, or below an address that answers plain GET requests, as object stores do. */
export interface MapsFrom {
  folder: string | null;
  url: URL | null;
  authorization: string | null;
  /** How long an address may stay silent, ms. */
  silentMs: number;
  /** Largest map that is fetched, bytes. It is held in memory. */
  maxBytes: number;
  /** The validator of an address, or null when it gives none. */
  validator(name: string): Promise<string | null>;
}

/** How long an address may stay silent: before its answer, and between two pieces of it. A slow one that keeps sending may go on. */
const SILENT_MS = 60_000;

/** An address and its credentials: a name and password from the address itself (RFC 7617), which no request may carry in its address. */
interface Address {
  url: URL;
  authorization: string | null;
  silentMs: number;
}

/** A folder or an http(s) address as a place of maps. Throws `UserError` when it is neither. */
export function mapsFrom(text: string, maxBytes: number, silentMs = SILENT_MS): MapsFrom {
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
    const authorization = credentialsOf(url);
    url.username = '';
    url.password = '';
    return {
      folder: null,
      url,
      authorization,
      maxBytes,
      silentMs,
      validator: (name) => validatorOf({ url: addressOf(url, name), authorization, silentMs }),
    };
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
  return { folder, url: null, authorization: null, maxBytes, silentMs, validator: async () => null };
}

function credentialsOf({ username, password }: URL): string | null {
  if (username === '' && password === '') return null;
  try {
    const pair = `${decodeURIComponent(username)}:${decodeURIComponent(password)}`;
    return `Basic ${Buffer.from(pair, 'utf8').toString('base64')}`;
  } catch {
    // An undecodable part is not quoted: it is a password.
    throw new UserError(
      'option-value',
      'The name and password in the address for "--maps-from" cannot be read.',
      {},
      'Write each "%" in them as %25.',
    );
  }
}

// biome-ignore lint/suspicious/noControlCharactersInRegex: they are what is refused
const REFUSED = /[\\\u0000-\u001F]/;
/** On Windows ":" means a drive or a stream, and the others are not allowed. */
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
      sentence: 'The file is not below "--maps-from".',
      todo: 'Workers on other machines find it only there.',
    };
  const todo = 'Give it another name.';
  if (parts.some((p) => p.startsWith('.')))
    return { sentence: 'Files and folders whose names begin with a dot are not sent to workers.', todo };
  const [odd] = (windows ? REFUSED_BY_WINDOWS : REFUSED).exec(name) ?? [];
  if (odd !== undefined) {
    const what = odd < ' ' ? 'a control character' : `"${odd}"`;
    return { sentence: `Names with ${what} are not sent to workers.`, todo };
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
      'The name of the file points outside the folder of the maps, or is not allowed in it.',
      {},
      'Name it by its path below "--maps-from", with "/" between folders.',
    );
  if (from.url) return fetched({ ...from, url: addressOf(from.url, name) }, name, from.maxBytes);
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
      `"${name}" is a link to a file outside the folder of the maps.`,
      {},
      'Put the file itself there.',
    );
  return namedFile(path);
}

function addressOf(base: URL, name: string): URL {
  return new URL(name.split('/').map(encodeURIComponent).join('/'), base);
}

/** Network trouble is not a `UserError`: it is tried again, and reported when that fails. A plain "not found" is one. */
async function fetched(address: Address, name: string, maxBytes: number): Promise<NamedBytes> {
  const silence = patience(address.silentMs);
  try {
    const answer = await ask(address, 'GET', silence);
    if (!answer.ok) refuse(answer.status, name);
    const tooLarge = new UserError(
      'file-size',
      `The map is larger than ${Math.round(maxBytes / 1e6)} MB.`,
      { file: name },
      'Raise "--max-map-mb" where there is memory for it.',
    );
    if (Number(answer.headers.get('content-length') ?? 0) > maxBytes) throw tooLarge;
    const parts: Uint8Array[] = [];
    let size = 0;
    for await (const part of answer.body ?? []) {
      silence.heard();
      size += part.byteLength;
      if (size > maxBytes) throw tooLarge;
      parts.push(part);
    }
    return named(name.split('/').pop()!, Buffer.concat(parts));
  } catch (e) {
    throw e instanceof UserError || e instanceof NoAnswer ? e : new NoAnswer(e);
  } finally {
    silence.end();
  }
}

async function validatorOf(address: Address): Promise<string | null> {
  const silence = patience(address.silentMs);
  try {
    const answer = await ask(address, 'HEAD', silence);
    if (!answer.ok) return null;
    const tag = answer.headers.get('etag');
    // A weak validator may cover two contents.
    return tag === null || tag.startsWith('W/') ? null : tag;
  } finally {
    silence.end();
  }
}

/** Network trouble, which may be gone by the next try. */
class NoAnswer extends Error {
  /** The network's error code, or the sentence itself. */
  constructor(e: unknown) {
    if (typeof e === 'string') {
      super(e);
      return;
    }
    const cause = (e as { cause?: { code?: string } }).cause?.code ?? (e as Error).name;
    super(`the address of the maps does not answer (${cause === 'AbortError' ? 'it did not answer' : cause})`);
  }
}

interface Patience {
  signal: AbortSignal;
  heard(): void;
  /** Also ends a request that is still under way, because nothing reads on. */
  end(): void;
}

/** Ends a request when nothing arrives for a while. */
function patience(silentMs: number): Patience {
  const control = new AbortController();
  let timer = setTimeout(() => control.abort(), silentMs);
  return {
    signal: control.signal,
    heard() {
      clearTimeout(timer);
      timer = setTimeout(() => control.abort(), silentMs);
    },
    end() {
      clearTimeout(timer);
      control.abort();
    },
  };
}

/** One request. Redirects are not followed: the maps are only where the user said. */
async function ask({ url, authorization }: Address, method: 'GET' | 'HEAD', { signal }: Patience): Promise<Response> {
  // A connection that was kept may have been closed meanwhile: each request has its own.
  const headers = { Connection: 'close', ...(authorization === null ? {} : { Authorization: authorization }) };
  try {
    return await fetch(url, { method, headers, redirect: 'manual', signal });
  } catch (e) {
    throw new NoAnswer(e);
  }
}

function refuse(status: number, name: string): never {
  const todo: Readonly<Record<number, string>> = {
    401: 'Ask for permission to read it.',
    403: 'Ask for permission to read it.',
    404: 'Check the name.',
    410: 'Check the name.',
  };
  const moved = status >= 300 && status < 400 ? 'Give the address to which it leads.' : undefined;
  const then = todo[status] ?? moved;
  if (then === undefined) throw new NoAnswer(`the address of the maps answers ${status} for "${name}"`);
  throw new UserError('no-file', `The address of the maps answers ${status} for "${name}".`, {}, then);
}
