import { UserError } from '../shared/messages.ts';
import { type Limits, orRaise, sizeText } from './limits.ts';
import type { NamedBytes } from './types.ts';

/** Bytes in memory under a name, to be read as a file. The bytes are not copied. */
export function named(name: string, bytes: Uint8Array): NamedBytes {
  return {
    name,
    sizeBytes: bytes.byteLength,
    async *chunks() {
      if (bytes.byteLength > 0) yield bytes;
    },
  };
}

/** Text from a file, made safe for a sentence: no control characters, no direction marks, not long. */
export function shown(text: string, most = 60): string {
  let clean = '';
  for (const c of text.length > 4 * most ? text.slice(0, 4 * most) : text)
    clean += isHidden(c.codePointAt(0) as number) ? ' ' : c;
  clean = clean.replace(/ {2,}/g, ' ').trim();
  return clean.length > most ? `${clean.slice(0, most - 1)}…` : clean;
}

/** Control characters, line separators and marks that turn the direction of text. */
function isHidden(c: number): boolean {
  return (
    c < 32 ||
    (c >= 0x7f && c <= 0x9f) ||
    c === 0x200e ||
    c === 0x200f ||
    (c >= 0x2028 && c <= 0x202e) ||
    (c >= 0x2066 && c <= 0x2069)
  );
}

/** 'sub/Field.SHP' -> folder 'sub/', base 'Field', ext 'shp' (lower case). */
export function splitName(name: string): { folder: string; base: string; ext: string } {
  const slash = Math.max(name.lastIndexOf('/'), name.lastIndexOf('\\'));
  const leaf = name.slice(slash + 1);
  const dot = leaf.lastIndexOf('.');
  return {
    folder: name.slice(0, slash + 1),
    base: dot > 0 ? leaf.slice(0, dot) : leaf,
    ext: dot > 0 ? leaf.slice(dot + 1).toLowerCase() : '',
  };
}

/** The whole file as one array. Throws `UserError` 'file-too-big' beyond `most` bytes; `limit` names the limit that it is, if it is one. */
export async function readAll(file: NamedBytes, most: number, limit?: keyof Limits): Promise<Uint8Array> {
  const parts: Uint8Array[] = [];
  let size = 0;
  for await (const part of file.chunks()) {
    size += part.byteLength;
    if (size > most) throw tooBig(file.name, most, limit);
    parts.push(part);
  }
  if (parts.length === 1) return parts[0];
  const all = new Uint8Array(size);
  let at = 0;
  for (const part of parts) {
    all.set(part, at);
    at += part.byteLength;
  }
  return all;
}

export function tooBig(file: string, most: number, limit?: keyof Limits): UserError {
  return new UserError(
    'file-too-big',
    `The file is larger than ${sizeText(most)}, the limit.`,
    { file: shown(file) },
    limit === undefined ? 'Export the map again.' : orRaise('Export one field at a time', limit),
  );
}

/** The first `n` bytes, fewer when the file is shorter. */
export async function head(file: NamedBytes, n: number): Promise<Uint8Array> {
  const out = new Uint8Array(n);
  let at = 0;
  for await (const part of file.chunks()) {
    const take = part.subarray(0, n - at);
    out.set(take, at);
    at += take.byteLength;
    if (at >= n) break;
  }
  return out.subarray(0, at);
}

/**
 * A moving window over a file. `buf[start..end)` is unread; `buf[end]` is always 0, so that scanning loops stop there.
 */
export class Window {
  buf: Uint8Array;
  start = 0;
  end = 0;
  /** True when the file has no more bytes than the window holds. */
  final = false;
  /** Offset in the file of `buf[0]`. */
  base = 0;
  private part: Uint8Array = new Uint8Array(0);
  private at = 0;
  private readonly source: AsyncIterator<Uint8Array>;
  private readonly most: number;
  private readonly name: string;

  /** `first` is the first size of the window, less when the file is smaller. */
  constructor(file: NamedBytes, most: number, first = 1 << 20) {
    this.buf = new Uint8Array(Math.max(16, Math.min(first, file.sizeBytes + 1)) + 1);
    this.source = file.chunks()[Symbol.asyncIterator]();
    this.most = most;
    this.name = file.name;
  }

  /** Drops what lies before `start` and adds at least one byte, or sets `final`. The window doubles when one record does not fit. */
  async more(): Promise<void> {
    const kept = this.end - this.start;
    const room = this.buf.length - 1;
    if (kept > room / 2) {
      if (room > this.most) {
        throw new UserError(
          'record-too-big',
          `One record is larger than ${sizeText(this.most)}, the limit.`,
          { file: shown(this.name) },
          orRaise('Export the map as one record per section or per pass', 'recordBytes'),
        );
      }
      const bigger = new Uint8Array(2 * room + 1);
      bigger.set(this.buf.subarray(this.start, this.end));
      this.buf = bigger;
    } else if (this.start > 0) this.buf.copyWithin(0, this.start, this.end);
    this.base += this.start;
    this.start = 0;
    this.end = kept;
    const full = this.buf.length - 1;
    while (this.end < full) {
      if (this.at >= this.part.length) {
        const next = await this.source.next();
        if (next.done) {
          this.final = true;
          break;
        }
        this.part = next.value;
        this.at = 0;
        continue;
      }
      const take = this.part.subarray(this.at, this.at + full - this.end);
      this.buf.set(take, this.end);
      this.end += take.length;
      this.at += take.length;
    }
    this.buf[this.end] = 0;
  }

  /** True when `n` bytes are available, reading more as needed; false at the end of the file. */
  async has(n: number): Promise<boolean> {
    while (this.end - this.start < n) {
      if (this.final) return false;
      await this.more();
    }
    return true;
  }

  async close(): Promise<void> {
    await this.source.return?.();
  }
}
