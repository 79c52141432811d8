import { seeded } from '../intake/helpers.ts';

/** Bytes that mean something to one of the readers: ends, blanks, signs, quotes, brackets, deleted rows. */
const BYTES = [0, 1, 0x0a, 0x0d, 0x1a, 0x20, 0x22, 0x2a, 0x2c, 0x2d, 0x30, 0x39, 0x5b, 0x5c, 0x5d, 0x7b, 0x7d, 0x7f];
const MORE_BYTES = [0x80, 0xc3, 0xed, 0xef, 0xf0, 0xfe, 0xff];
const INTEGERS = [
  0,
  1,
  2,
  3,
  5,
  15,
  25,
  31,
  43,
  44,
  100,
  255,
  256,
  9994,
  65_535,
  65_536,
  2 ** 24,
  2 ** 31 - 1,
  -1,
  -2,
  -(2 ** 31),
];
const DOUBLES = [
  0,
  -0,
  1e-320,
  5e-324,
  90,
  180,
  -180,
  180.0000001,
  360,
  1e9,
  1e16,
  1e39,
  -1e39,
  1.7e308,
  Infinity,
  Number.NaN,
];
const NUMBERS = [
  ...['0', '-0', '1', '-1', '1e39', '-1e39', '1e400', '1e-400', '180', '-180', '90', '90.0000001', '999', '4649950.32'],
  ...['0.1e', '01', '+1', '.5', '1.', '--1', 'NaN', 'Infinity', 'null', 'true', '""', '[]', '{}', '9007199254740993'],
  ...['0.12345678901234567890123456789', '1E+2', '500', '501', '10000', '-93.6', '42'],
];
const TOKENS = [
  ...[
    '"__proto__":',
    '"constructor"',
    '"type":',
    '"Polygon"',
    '"MultiPolygon"',
    '"GeometryCollection"',
    '"crs":{',
    '[[',
    ']]',
  ],
  ...[
    '},{',
    ',,',
    '"\\ud800"',
    '"\\u0000"',
    '\u202e',
    '\u001b[2J',
    '=1+1',
    '<script>',
    '../',
    'EPSG:0',
    'UNIT["x",',
    'DATUM[',
    '['.repeat(20_000) + ']'.repeat(20_000),
  ],
];

/**
 * `bytes` changed in one to six ways, always alike for the same seed. `others` are files of the same kind that pieces may come from.
 * The changes know a little of the formats: whole numbers and doubles are put over others in both byte orders, numbers in a text
 * are exchanged for harder ones, runs are cut, doubled, moved and spliced.
 */
export function mutate(bytes: Uint8Array, others: readonly Uint8Array[], seed: number): Uint8Array {
  const random = seeded(seed);
  const below = (n: number): number => Math.floor(random() * n);
  const one = <T>(list: readonly T[]): T => list[below(list.length)];
  let out: Uint8Array<ArrayBuffer> = bytes.slice();
  const times = 1 + below(6);
  for (let k = 0; k < times && out.length > 0; k++) {
    // Heads hold what governs the rest, so that they are hit more often than their share.
    const at = random() < 0.4 ? below(Math.min(out.length, 160)) : below(out.length);
    const kind = below(12);
    if (kind === 0) out[at] = one(BYTES);
    else if (kind === 1) out[at] = one(MORE_BYTES);
    else if (kind === 2) out[at] ^= 1 << below(8);
    else if (kind === 3 && out.length >= at + 4) new DataView(out.buffer).setInt32(at, one(INTEGERS), random() < 0.5);
    else if (kind === 4 && out.length >= at + 8) new DataView(out.buffer).setFloat64(at, one(DOUBLES), true);
    else if (kind === 5 && random() < 0.4) out = out.slice(0, at);
    else if (kind === 6) out = joined(out.subarray(0, at), out.subarray(at + 1 + below(random() < 0.5 ? 4 : 200)));
    else if (kind === 7) out = joined(out.subarray(0, at), out.subarray(Math.max(0, at - 1 - below(300))));
    else if (kind === 8) out = joined(out.subarray(0, at), text(one(TOKENS)), out.subarray(at));
    else if (kind === 9) {
      const other = one(others);
      const from = below(other.length);
      out = joined(out.subarray(0, at), other.subarray(from, from + below(400)), out.subarray(at));
    } else out = otherNumber(out, at, one(NUMBERS));
  }
  return out;
}

/** The number in the text at or after `at` exchanged for `by`. */
function otherNumber(bytes: Uint8Array<ArrayBuffer>, at: number, by: string): Uint8Array<ArrayBuffer> {
  const isDigit = (c: number): boolean => (c >= 0x30 && c <= 0x39) || c === 0x2d || c === 0x2e;
  let from = at;
  while (from < bytes.length && from < at + 400 && !isDigit(bytes[from])) from++;
  let to = from;
  while (to < bytes.length && isDigit(bytes[to])) to++;
  return to > from ? joined(bytes.subarray(0, from), text(by), bytes.subarray(to)) : bytes;
}

function text(s: string): Uint8Array {
  return new TextEncoder().encode(s);
}

function joined(...parts: Uint8Array[]): Uint8Array<ArrayBuffer> {
  const out = new Uint8Array(parts.reduce((n, p) => n + p.length, 0));
  let at = 0;
  for (const p of parts) {
    out.set(p, at);
    at += p.length;
  }
  return out;
}
