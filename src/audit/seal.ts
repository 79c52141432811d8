/**
 * Signatures for everything that passes through the queue's server. Anyone who can write to that server could make a worker read files, or send an audit results
 * that were never computed; a key that only the audit and its workers have exposes both.
 */
import { createHmac, timingSafeEqual } from 'node:crypto';
import * as v from 'valibot';
import { UserError } from '../core/shared/messages.ts';
import { readText } from '../files.ts';
import { VERSION } from '../version.ts';
import { EDITION } from './key.ts';
import { shaped } from './schema.ts';

/** Audit and worker must agree in both: another version may answer otherwise, another edition writes otherwise. */
export const RUNS = `${VERSION} ${EDITION}`;

export interface Sealed {
  runs: string;
  text: string;
  /** HMAC-SHA256 (RFC 2104, FIPS 180-4) in hexadecimal digits; empty without a key. */
  mac: string;
}

const SEALED = v.strictObject({
  runs: v.pipe(v.string(), v.maxLength(200)),
  text: v.pipe(v.string(), v.maxLength(200_000_000)),
  mac: v.pipe(v.string(), v.maxLength(64)),
});

/** Jobs and results are signed separately, each for its own field: neither can replace the other, nor one of another field. */
export type Kind = 'job' | 'result';

function macOf(secret: Buffer, kind: Kind, field: string, runs: string, text: string): string {
  return createHmac('sha256', secret)
    .update(JSON.stringify([kind, field, runs]))
    .update(text)
    .digest('hex');
}

export function seal(secret: Buffer | null, kind: Kind, field: string, text: string): Sealed {
  return { runs: RUNS, text, mac: secret === null ? '' : macOf(secret, kind, field, RUNS, text) };
}

/** `other` names the version of a writer that runs another one. */
export type Opened = { text: string } | { fault: string; other?: string };

/** The signed text, or why it is refused. */
export function open(secret: Buffer | null, kind: Kind, field: string, sealed: unknown): Opened {
  const found = shaped(SEALED, sealed);
  if ('fault' in found) return { fault: `it is no ${kind} (${found.fault})` };
  const { runs, text, mac } = found.value;
  if (secret !== null) {
    const [given, right] = [Buffer.from(mac), Buffer.from(macOf(secret, kind, field, runs, text))];
    if (given.length !== right.length || !timingSafeEqual(given, right))
      return { fault: mac === '' ? 'it is not signed with the key of the queue' : 'its signature is wrong' };
  }
  if (runs !== RUNS) {
    const other = runs.replace(/[^\w ./-]/g, '').slice(0, 60);
    return { fault: `it comes from another version of the program (${other}; this is ${RUNS})`, other };
  }
  return { text };
}

/** The key, in its own file: on the command line everyone on the machine could read it. Throws `UserError`. */
export function readSecret(path: string): Buffer {
  const text = readText(path, 'key of a queue', 10_000).trim();
  if (text.length < 16)
    throw new UserError(
      'queue-key',
      'The key of the queue has fewer than 16 characters.',
      {},
      'Write a long random text into that file, the same on every machine.',
    );
  return Buffer.from(text, 'utf8');
}
