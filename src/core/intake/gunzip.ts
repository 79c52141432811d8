import { Gunzip } from 'fflate';
import type { UserErrorCode } from '../shared/codes.ts';
import { UserError } from '../shared/messages.ts';
import { readAll, shown } from './bytes.ts';
import { type Limits, orRaise, sizeText } from './limits.ts';
import type { NamedBytes } from './types.ts';
import { crc32 } from './zip.ts';

/** Packed bytes handed to the unpacker at a time. */
const PIECE = 32768;
/** The ratio is checked only after this much has been unpacked. */
const RATIO_FROM = 16 * 1024 ** 2;

/**
 * The file in a gzip (RFC 1952; several members make one file), unpacked as it is read, under its name without ".gz". The packed bytes are held in
 * memory; `sizeBytes` is the size that the file claims and may be wrong. Throws `UserError` while it is read when it is damaged, cut off, or beyond the limits.
 */
export async function openGzip(file: NamedBytes, limits: Limits): Promise<NamedBytes> {
  const packed = await readAll(file, limits.archiveBytes, 'archiveBytes');
  const name = shown(file.name);
  const refuse = (code: UserErrorCode, sentence: string, todo = 'Download or export the file again.'): UserError =>
    new UserError(code, sentence, { file: name }, todo);
  if (packed.length < 18) throw refuse('gzip-broken', 'The file is not a complete gzip.');
  const tail = new DataView(packed.buffer, packed.byteOffset + packed.length - 4, 4);
  return {
    name: file.name.replace(/\.gz$/i, ''),
    // Of several members this is the last one's; at most what the best compression gives.
    sizeBytes: Math.min(Math.max(tail.getUint32(0, true), packed.length), 1032 * packed.length),
    async *chunks() {
      let out = 0;
      let crc = -1;
      const view = new DataView(packed.buffer, packed.byteOffset, packed.length);
      const checkMember = (end: number): void => {
        if ((crc ^ -1) >>> 0 !== view.getUint32(end - 8, true))
          throw refuse('gzip-broken', 'The gzip is damaged: its checksum is wrong.');
        crc = -1;
      };
      const ready: Uint8Array[] = [];
      const gunzip = new Gunzip((part) => {
        out += part.length;
        const over = out > limits.unpackedBytes ? 'unpackedBytes' : 'archiveRatio';
        if (over === 'unpackedBytes' || (out > RATIO_FROM && out > limits.archiveRatio * packed.length))
          throw refuse(
            'zip-bomb',
            over === 'unpackedBytes'
              ? `The file unpacks to more than ${sizeText(limits.unpackedBytes)}, the limit.`
              : `The file unpacks to more than ${limits.archiveRatio} times its packed size, far more than a map does.`,
            orRaise('Unpack it and give the file inside', over),
          );
        crc = crc32(crc, part);
        if (part.length > 0) ready.push(part);
      });
      gunzip.onmember = checkMember;
      for (let i = 0; i < packed.length; i += PIECE) {
        try {
          gunzip.push(packed.subarray(i, i + PIECE), i + PIECE >= packed.length);
        } catch (e) {
          if (e instanceof UserError) throw e;
          throw refuse('gzip-broken', 'The gzip is damaged or cut off and cannot be unpacked.');
        }
        yield* ready.splice(0);
      }
      checkMember(packed.length);
    },
  };
}
