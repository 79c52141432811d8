import type { BytePattern } from './byte-pattern.ts';

/** Thrown when a value runs beyond the window; the reader gets more bytes and reads the value again. */
export const NEED_MORE: unique symbol = Symbol('need more bytes');

/** The bytes are not JSON. `at` is the offset in the window. */
export class JsonFault extends Error {
  readonly at: number;
  constructor(what: string, at: number) {
    super(what);
    this.at = at;
  }
}

const P10 = Array.from({ length: 23 }, (_, i) => 10 ** i);
/** Below this one more decimal digit still fits a double without rounding (2^53 / 10). */
const ROOM = 900719925474099;

/**
 * JSON by bytes. The window `buf[pos..end)` ends with a 0 byte at `buf[end]`, which is part of no token, so no loop needs to check `end`.
 * Nothing is built: values are skipped, or read one by one into numbers and spans.
 */
export class JsonBytes {
  buf: Uint8Array = new Uint8Array(1);
  /** `buf` again, to read several bytes at a time. */
  view = new DataView(this.buf.buffer);
  pos = 0;
  end = 0;
  /** No bytes follow the window. */
  final = false;
  /** Of the last `span`: whether it held an escape, and its FNV-1a hash. */
  escaped = false;
  hash = 0;
  /** The last `number` was an integer that a double may have rounded. */
  roundedInteger = false;
  /** Closing brackets of what `skip` is in. */
  private open: Uint8Array = new Uint8Array(64);
  /** Of the last `position`. */
  x = 0;
  y = 0;

  /** Turns to another window. */
  look(buf: Uint8Array, pos: number, end: number, final: boolean): void {
    if (buf !== this.buf) this.view = new DataView(buf.buffer, buf.byteOffset, buf.byteLength);
    this.buf = buf;
    this.pos = pos;
    this.end = end;
    this.final = final;
  }

  fail(what: string, at = this.pos): never {
    if (at >= this.end && !this.final) throw NEED_MORE;
    throw new JsonFault(at >= this.end ? 'the file ends' : what, Math.min(at, this.end));
  }

  /** Skips blanks and returns the next byte without consuming it. */
  peek(): number {
    const b = this.buf;
    let i = this.pos;
    let c = b[i];
    while (c === 32 || c === 10 || c === 13 || c === 9) c = b[++i];
    this.pos = i;
    if (c === 0) this.fail('a zero byte');
    return c;
  }

  take(c: number): void {
    if (this.peek() !== c) this.fail(`expected ${String.fromCharCode(c)}`);
    this.pos++;
  }

  /** At an opening quote: consumes the string, and returns where its bytes begin. They end at `pos - 1`. */
  span(): number {
    const b = this.buf;
    const begin = this.pos + 1;
    let i = begin;
    let h = 0x811c9dc5;
    let escaped = false;
    for (;;) {
      const c = b[i];
      if (c === 34) break;
      if (c < 32) this.fail(c === 0 ? 'a zero byte in a text' : 'a control character in a text', i);
      if (c === 92) {
        escaped = true;
        this.escape(i);
        i++;
      }
      h = Math.imul(h ^ c, 16777619);
      i++;
    }
    this.pos = i + 1;
    this.escaped = escaped;
    this.hash = h;
    return begin;
  }

  /** At a backslash in a text: fails where JSON has no such escape (RFC 8259, 7). */
  private escape(at: number): void {
    const b = this.buf;
    const c = b[at + 1];
    if (c === 117) {
      for (let k = at + 2; k < at + 6; k++) {
        const d = b[k] | 32;
        if (!((b[k] >= 48 && b[k] <= 57) || (d >= 97 && d <= 102))) this.fail('an escape that JSON does not have', k);
      }
    } else if (!(c === 34 || c === 92 || c === 47 || c === 98 || c === 102 || c === 110 || c === 114 || c === 116)) {
      this.fail('an escape that JSON does not have', at + 1);
    }
  }

  /** The string at `pos` as text. */
  string(): string {
    if (this.peek() !== 34) this.fail('expected a text');
    const begin = this.span();
    return this.textOf(begin, this.pos - 1, this.escaped);
  }

  /** At an opening quote: consumes the string; returns it when it is one of `words` (see `quoted`), and '?' when it is not. */
  oneOf(words: readonly BytePattern[]): string {
    const { view, pos } = this;
    for (let k = 0; k < words.length; k++) {
      const word = words[k];
      if (!word.isAt(view, pos)) continue;
      this.pos = pos + word.bytes.length;
      return word.text;
    }
    const begin = this.span();
    if (!this.escaped) return '?';
    const text = this.textOf(begin, this.pos - 1, true);
    return words.some((w) => w.text === text) ? text : '?';
  }

  textOf(begin: number, end: number, escaped: boolean): string {
    const raw = new TextDecoder().decode(this.buf.subarray(begin, end));
    return escaped ? (JSON.parse(`"${raw}"`) as string) : raw;
  }

  /**
   * The number at `pos`, rounded as in IEEE 754 (like `JSON.parse`); NaN when it is not a number, with nothing consumed.
   */
  number(): number {
    const b = this.buf;
    const begin = this.pos;
    let i = begin;
    let c = b[i];
    const minus = c === 45;
    if (minus) c = b[++i];
    if (c < 48 || c > 57) return this.badNumber(i);
    let m = 0;
    const first = i;
    do {
      m = m * 10 + (c - 48);
      c = b[++i];
    } while (c >= 48 && c <= 57);
    let digits = i - first;
    if (digits > 1 && b[first] === 48) return this.badNumber(first);
    let places = 0;
    this.roundedInteger = false;
    if (c === 46) {
      c = b[++i];
      const dot = i;
      while (c >= 48 && c <= 57) {
        m = m * 10 + (c - 48);
        c = b[++i];
      }
      places = i - dot;
      if (places === 0) return this.badNumber(i);
      digits += places;
    } else if (digits > 15 && m > Number.MAX_SAFE_INTEGER) this.roundedInteger = true;
    if (c === 0) this.fail('a zero byte', i);
    if (digits > 15 || c === 101 || c === 69) {
      if (c === 101 || c === 69) {
        c = b[++i];
        if (c === 43 || c === 45) c = b[++i];
        if (c < 48 || c > 57) return this.badNumber(i);
        while (c >= 48 && c <= 57) c = b[++i];
        if (c === 0) this.fail('a zero byte', i);
      }
      this.pos = i;
      return Number(ascii(b, begin, i));
    }
    this.pos = i;
    const value = places === 0 ? m : m / P10[places];
    return minus ? -value : value;
  }

  /**
   * As `number`, for coordinates: digits beyond the sixteenth are dropped, which is 1e-13 of a degree or less.
   */
  coordinate(): number {
    const b = this.buf;
    const begin = this.pos;
    let i = begin;
    let c = b[i];
    const minus = c === 45;
    if (minus) c = b[++i];
    if (c < 48 || c > 57) return this.badNumber(i);
    let m = 0;
    const first = i;
    do {
      m = m * 10 + (c - 48);
      c = b[++i];
    } while (c >= 48 && c <= 57);
    if (i - first > 1 && b[first] === 48) return this.badNumber(first);
    let places = 0;
    if (c === 46) {
      c = b[++i];
      const dot = i;
      while (c >= 48 && c <= 57 && m < ROOM) {
        m = m * 10 + (c - 48);
        c = b[++i];
      }
      places = i - dot;
      if (places === 0) return this.badNumber(i);
      while (c >= 48 && c <= 57) c = b[++i];
    }
    if (c === 0) this.fail('a zero byte', i);
    if (c === 101 || c === 69 || m > Number.MAX_SAFE_INTEGER || places > 22) {
      this.pos = begin;
      return this.number();
    }
    this.pos = i;
    const value = m / P10[places];
    return minus ? -value : value;
  }

  /**
   * The usual position, `[x,y]` without blanks, two decimal fractions of at most fifteen digits each: consumes it, and puts its numbers (as
   * `coordinate` would give them) into `x` and `y`. False, with nothing consumed, for anything else.
   */
  position(): boolean {
    const b = this.buf;
    let i = this.pos;
    if (b[i] !== 91) return false;
    for (let axis = 0; axis < 2; axis++) {
      let c = b[++i];
      const minus = c === 45;
      if (minus) c = b[++i];
      const first = i;
      // Nine digits fit a small integer, which is the fast kind.
      let m = 0;
      while (c >= 48 && c <= 57 && i - first < 9) {
        m = m * 10 + (c - 48);
        c = b[++i];
      }
      if (c !== 46 || i === first || (b[first] === 48 && i - first > 1)) return false;
      const dot = i;
      c = b[++i];
      while (c >= 48 && c <= 57 && i - first <= 9) {
        m = m * 10 + (c - 48);
        c = b[++i];
      }
      let value = m;
      while (c >= 48 && c <= 57) {
        value = value * 10 + (c - 48);
        c = b[++i];
      }
      const places = i - dot - 1;
      if (places === 0 || i - first > 16 || c !== (axis === 0 ? 44 : 93)) return false;
      value /= P10[places];
      if (axis === 0) this.x = minus ? -value : value;
      else this.y = minus ? -value : value;
    }
    this.pos = i + 1;
    return true;
  }

  private badNumber(at: number): number {
    if (at >= this.end) this.fail('a number', at);
    return Number.NaN;
  }

  /** Skips one value of any kind, which must be JSON throughout; with `lenient` also what `notANumber` takes. */
  skip(lenient = false): void {
    let depth = 0;
    for (;;) {
      // At a value.
      const c = this.peek();
      if (c === 123 || c === 91) {
        this.pos++;
        if (depth === this.open.length) this.open = doubled(this.open);
        this.open[depth++] = c + 2;
        if (this.peek() !== c + 2) {
          if (c === 123) this.key();
          continue;
        }
        this.pos++;
        depth--;
      } else if (c === 34) this.span();
      else if (!(lenient && this.notANumber())) this.scalar();
      // After a value.
      for (;;) {
        if (depth === 0) return;
        const close = this.open[depth - 1];
        const d = this.peek();
        this.pos++;
        if (d === 44) {
          if (close === 125) this.key();
          break;
        }
        if (d !== close) this.fail('a comma or a closing bracket is missing', this.pos - 1);
        depth--;
      }
    }
  }

  private key(): void {
    if (this.peek() !== 34) this.fail('expected a key');
    this.span();
    this.take(58);
  }

  /** At a number, `true`, `false` or `null`: consumes it. */
  scalar(): void {
    const b = this.buf;
    let i = this.pos;
    let c = b[i];
    if (c === 45 || (c >= 48 && c <= 57)) i = this.endOfNumber(i);
    else {
      const word = c === 110 ? 'null' : c === 116 ? 'true' : c === 102 ? 'false' : '';
      for (let k = 0; k < word.length; k++, i++) if (b[i] !== word.charCodeAt(k)) this.fail('expected a value', i);
      if (word === '') this.fail('expected a value');
    }
    c = b[i];
    if (c === 0 && i >= this.end && !this.final) throw NEED_MORE;
    if (
      !(c === 44 || c === 125 || c === 93 || c === 32 || c === 10 || c === 13 || c === 9 || (c === 0 && i >= this.end))
    )
      this.fail('expected a value');
    this.pos = i;
  }

  private endOfNumber(from: number): number {
    const b = this.buf;
    let i = from;
    const digits = (): void => {
      if (!(b[i] >= 48 && b[i] <= 57)) this.fail('expected a value', i >= this.end ? i : from);
      while (b[i] >= 48 && b[i] <= 57) i++;
    };
    if (b[i] === 45) i++;
    if (b[i] === 48) i++;
    else digits();
    if (b[i] === 46) {
      i++;
      digits();
    }
    if (b[i] === 101 || b[i] === 69) {
      i++;
      if (b[i] === 43 || b[i] === 45) i++;
      digits();
    }
    return i;
  }

  /** At `NaN`, `Infinity` or `-Infinity`, which JSON does not have and some programs write: consumes it. */
  notANumber(): boolean {
    const b = this.buf;
    for (const word of NOT_NUMBERS) {
      let k = 0;
      while (k < word.length && b[this.pos + k] === word[k]) k++;
      if (k < word.length && this.pos + k >= this.end && k > 0 && !this.final) throw NEED_MORE;
      if (k < word.length) continue;
      this.pos += k;
      return true;
    }
    return false;
  }
}

const NOT_NUMBERS = ['NaN', 'Infinity', '-Infinity'].map((w) => new TextEncoder().encode(w));

function doubled(a: Uint8Array): Uint8Array {
  const b = new Uint8Array(2 * a.length);
  b.set(a);
  return b;
}

export function ascii(b: Uint8Array, from: number, to: number): string {
  let s = '';
  for (let i = from; i < to; i++) s += String.fromCharCode(b[i]);
  return s;
}
