import { Inflate } from 'fflate';
import type { UserErrorCode } from '../shared/codes.ts';
import { UserError } from '../shared/messages.ts';
import { readAll, shown } from './bytes.ts';
import { type Limits, orRaise, sizeText } from './limits.ts';
import type { NamedBytes } from './types.ts';

const END = 0x06054b50;
const CENTRAL = 0x02014b50;
const LOCAL = 0x04034b50;
/** Packed bytes handed to the unpacker at a time: at deflate's best, 1032 to 1, that is 32 MB of output. */
const PIECE = 32768;
/** The ratio is checked only after this much has been unpacked. */
const RATIO_FROM = 16 * 1024 ** 2;

/**
 * Files of a .zip, each unpacked as it is read (never held whole), checked against its size and CRC-32 (APPNOTE.TXT of the ZIP format, 4.3).
 * Only the central directory counts for names and sizes. Throws `UserError` when the archive is cut off, encrypted, spanned, packed in another
 * way than stored or deflated, or beyond the limits.
 */
export async function openZip(file: NamedBytes, limits: Limits): Promise<NamedBytes[]> {
  const name = shown(file.name);
  const all = await readAll(file, limits.archiveBytes, 'archiveBytes');
  const view = new DataView(all.buffer, all.byteOffset, all.byteLength);
  const broken = (code: UserErrorCode, sentence: string): UserError =>
    new UserError(code, sentence, { file: name }, 'Download or export the archive again.');

  let end = -1;
  for (let i = all.length - 22; i >= 0 && i >= all.length - 22 - 0xffff; i--) {
    if (view.getUint32(i, true) === END && i + 22 + view.getUint16(i + 20, true) <= all.length) {
      end = i;
      break;
    }
  }
  if (end < 0) throw broken('zip-truncated', 'The archive is cut off or is not a .zip: its directory is missing.');
  const count = view.getUint16(end + 10, true);
  const size = view.getUint32(end + 12, true);
  let at = view.getUint32(end + 16, true);
  if (count === 0xffff || size === 0xffffffff || at === 0xffffffff) {
    throw broken('zip-unsupported', 'The archive is in the ZIP64 form for more than 65,535 files or 4 GB.');
  }
  if (view.getUint16(end + 4, true) !== view.getUint16(end + 6, true) || at + size > end) {
    throw broken('zip-broken', 'The directory of the archive does not lie where the archive says.');
  }
  if (count > limits.archiveEntries) {
    throw new UserError(
      'zip-too-many-files',
      `The archive holds ${count} files; the limit is ${limits.archiveEntries}.`,
      { file: name },
      orRaise('Put only the files of one map into the archive', 'archiveEntries'),
    );
  }

  const entries: NamedBytes[] = [];
  const taken: [number, number][] = [];
  for (let i = 0; i < count; i++) {
    if (at + 46 > end || view.getUint32(at, true) !== CENTRAL) {
      throw broken('zip-broken', 'The directory of the archive is damaged.');
    }
    const flags = view.getUint16(at + 8, true);
    const method = view.getUint16(at + 10, true);
    const crc = view.getUint32(at + 16, true);
    const nameLength = view.getUint16(at + 28, true);
    const extraLength = view.getUint16(at + 30, true);
    const next = at + 46 + nameLength + extraLength + view.getUint16(at + 32, true);
    if (next > end) throw broken('zip-broken', 'The directory of the archive is damaged.');
    const entryName = new TextDecoder(flags & 0x800 ? 'utf-8' : 'windows-1252').decode(
      all.subarray(at + 46, at + 46 + nameLength),
    );
    const entry: Entry = {
      packed: view.getUint32(at + 20, true),
      unpacked: view.getUint32(at + 24, true),
      crc,
      method,
      header: view.getUint32(at + 42, true),
    };
    readZip64(entry, view, at + 46 + nameLength, extraLength);
    at = next;
    if (isIgnored(entryName)) continue;
    const leaf = shown(entryName);
    if (flags & 1) throw broken('zip-encrypted', `"${leaf}" in the archive is encrypted.`);
    if (method !== 0 && method !== 8) {
      throw broken('zip-unsupported', `"${leaf}" is compressed in a way that is not supported (method ${method}).`);
    }
    if (entry.header + 30 > all.length || view.getUint32(entry.header, true) !== LOCAL) {
      throw broken('zip-broken', `"${leaf}" does not lie where the archive says.`);
    }
    const begin = entry.header + 30 + view.getUint16(entry.header + 26, true) + view.getUint16(entry.header + 28, true);
    if (begin + entry.packed > end) throw broken('zip-truncated', `"${leaf}" in the archive is cut off.`);
    taken.push([begin, begin + entry.packed]);
    entries.push(entryFile(entryName, name, all.subarray(begin, begin + entry.packed), entry, limits));
  }
  // With entries that share bytes a small archive pretends to hold petabytes.
  taken.sort((a, b) => a[0] - b[0]);
  for (let i = 1; i < taken.length; i++) {
    if (taken[i][0] < taken[i - 1][1]) throw broken('zip-broken', 'Files in the archive overlap each other.');
  }
  return entries;
}

interface Entry {
  packed: number;
  unpacked: number;
  crc: number;
  method: number;
  header: number;
}

/** Sizes that some programs put into the ZIP64 extra field even for small files. */
function readZip64(entry: Entry, view: DataView, at: number, length: number): void {
  for (let i = at; i + 4 <= at + length; ) {
    const size = view.getUint16(i + 2, true);
    if (view.getUint16(i, true) === 1) {
      let k = i + 4;
      const stop = Math.min(i + 4 + size, at + length);
      for (const key of ['unpacked', 'packed', 'header'] as const) {
        if (entry[key] !== 0xffffffff || k + 8 > stop) continue;
        entry[key] = Number(view.getBigUint64(k, true));
        k += 8;
      }
    }
    i += 4 + size;
  }
}

/** Folders, and files that systems leave behind beside the user's own. */
function isIgnored(name: string): boolean {
  const parts = name.split(/[\\/]/);
  const leaf = parts[parts.length - 1];
  return leaf === '' || leaf.startsWith('.') || parts.includes('__MACOSX') || /^(thumbs\.db|desktop\.ini)$/i.test(leaf);
}

function entryFile(name: string, archive: string, packed: Uint8Array, entry: Entry, limits: Limits): NamedBytes {
  const leaf = shown(name);
  const refuse = (code: UserErrorCode, sentence: string, todo = 'Download or export the archive again.'): UserError =>
    new UserError(code, sentence, { file: archive }, todo);
  return {
    name,
    sizeBytes: entry.unpacked,
    async *chunks() {
      let out = 0;
      let crc = -1;
      const ready: Uint8Array[] = [];
      const take = (part: Uint8Array): void => {
        out += part.length;
        const over = out > limits.unpackedBytes ? 'unpackedBytes' : 'archiveRatio';
        if (over === 'unpackedBytes' || (out > RATIO_FROM && out > limits.archiveRatio * packed.length)) {
          throw refuse(
            'zip-bomb',
            over === 'unpackedBytes'
              ? `"${leaf}" unpacks to more than ${sizeText(limits.unpackedBytes)}, the limit.`
              : `"${leaf}" unpacks to more than ${limits.archiveRatio} times its packed size, far more than a map does.`,
            orRaise('Unpack the archive and give its files', over),
          );
        }
        if (out > entry.unpacked) throw refuse('zip-broken', `"${leaf}" is longer than the archive says.`);
        crc = crc32(crc, part);
        if (part.length > 0) ready.push(part);
      };
      if (entry.method === 0) {
        for (let i = 0; i < packed.length; i += 1 << 20) {
          take(packed.subarray(i, i + (1 << 20)));
          yield* ready.splice(0);
        }
      } else {
        const inflate = new Inflate(take);
        for (let i = 0; i === 0 || i < packed.length; i += PIECE) {
          try {
            inflate.push(packed.subarray(i, i + PIECE), i + PIECE >= packed.length);
          } catch (e) {
            if (e instanceof UserError) throw e;
            throw refuse('zip-broken', `"${leaf}" in the archive is damaged and cannot be unpacked.`);
          }
          yield* ready.splice(0);
        }
      }
      if (out !== entry.unpacked) throw refuse('zip-broken', `"${leaf}" is shorter than the archive says.`);
      if ((crc ^ -1) >>> 0 !== entry.crc) {
        throw refuse('zip-crc', `"${leaf}" in the archive is damaged: its checksum is wrong.`);
      }
    },
  };
}

const CRC_TABLES = crcTables();

/** Four tables take four bytes a step. Polynomial 0xedb88320 (ISO 3309, reflected). */
function crcTables(): readonly Int32Array[] {
  const t = [new Int32Array(256), new Int32Array(256), new Int32Array(256), new Int32Array(256)];
  for (let n = 0; n < 256; n++) {
    let c = n;
    for (let k = 0; k < 8; k++) c = c & 1 ? (c >>> 1) ^ 0xedb88320 : c >>> 1;
    t[0][n] = c;
  }
  for (let k = 1; k < 4; k++) for (let n = 0; n < 256; n++) t[k][n] = (t[k - 1][n] >>> 8) ^ t[0][t[k - 1][n] & 255];
  return t;
}

/** Running CRC-32, before its last inversion; begins at -1. */
export function crc32(crc: number, bytes: Uint8Array): number {
  const [t0, t1, t2, t3] = CRC_TABLES;
  let c = crc;
  let i = 0;
  for (const stop = bytes.length - 3; i < stop; i += 4) {
    c ^= bytes[i] | (bytes[i + 1] << 8) | (bytes[i + 2] << 16) | (bytes[i + 3] << 24);
    c = t3[c & 255] ^ t2[(c >>> 8) & 255] ^ t1[(c >>> 16) & 255] ^ t0[c >>> 24];
  }
  for (; i < bytes.length; i++) c = (c >>> 8) ^ t0[(c ^ bytes[i]) & 255];
  return c;
}
