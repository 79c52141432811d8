import { realpathSync } from 'node:fs';
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
  return { folder, url: null, maxBytes, validator: async () => null };
}

/** A name that stays below its root: parts between slashes, none of them hidden, upward, or special to a file system. */
export function isBelow(name: unknown): name is string {
  return (
    typeof name === 'string' &&
    name.length <= 1000 &&
    // biome-ignore lint/suspicious/noControlCharactersInRegex: they are what is refused
    !/[\\:*?"<>|\u0000-\u001F]/.test(name) &&
    name.split('/').every((p) => p !== '' && !p.startsWith('.'))
  );
}

/** The file `name` below `from`. Throws `UserError` when it lies outside, is not there or is too large. */
export async function bytesFrom(from: MapsFrom, name: string): Promise<NamedBytes> {
  if (!isBelow(name))
    throw new UserError(
      'outside',
      'The name of the file leads out of the folder of the maps.',
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
  const answer = await fetch(url, { redirect: 'error', signal: AbortSignal.timeout(WAIT_MS) });
  refuse(answer, name);
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
  const answer = await fetch(url, { method: 'HEAD', redirect: 'error', signal: AbortSignal.timeout(WAIT_MS) });
  if (!answer.ok) return null;
  const tag = answer.headers.get('etag');
  // A weak validator may stand for two contents.
  return tag === null || tag.startsWith('W/') ? null : tag;
}

function refuse(answer: Response, name: string): void {
  if (answer.ok) return;
  if ([401, 403, 404, 410].includes(answer.status))
    throw new UserError(
      'no-file',
      `The address of the maps answers ${answer.status} for "${name}".`,
      {},
      answer.status === 404 || answer.status === 410 ? 'Check the name.' : 'Ask for the right to read it.',
    );
  throw new Error(`the address of the maps answers ${answer.status} for "${name}"`);
}
