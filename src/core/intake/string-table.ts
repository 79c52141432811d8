/** Every different run of bytes of a column once, numbered from 1 in order of appearance; 0 is the empty word. */
export class StringTable {
  count = 1;
  private arena = new Uint8Array(1024);
  private used = 0;
  private from = new Uint32Array(64);
  private hashes = new Int32Array(64);
  private table = new Int32Array(128);
  private mask = 127;
  /** 0 while words are found by the hash that their readers compute; else a seed that no file can foresee. */
  private seed = 0;

  /** Number of the word `buf[start..end)`. */
  intern(buf: Uint8Array, start: number, end: number): number {
    if (end <= start) return 0;
    let h = 0x811c9dc5;
    if (this.seed === 0) for (let i = start; i < end; i++) h = Math.imul(h ^ buf[i], 16777619);
    return this.internHashed(buf, start, end, h);
  }

  /** As `intern`, with the hash of the bytes: h = imul(h ^ byte, 16777619) from 0x811c9dc5 (FNV-1a, 32 bit). */
  internHashed(buf: Uint8Array, start: number, end: number, h: number): number {
    const n = end - start;
    if (n <= 0) return 0;
    if (this.seed !== 0) h = seeded(buf, start, end, this.seed);
    let slot = (h ^ (h >>> 15)) & this.mask;
    for (let look = 0; ; look++) {
      if (look === MANY_LOOKS && this.seed === 0) {
        this.reseed();
        return this.internHashed(buf, start, end, h);
      }
      const code = this.table[slot];
      if (code === 0) break;
      if (this.hashes[code] === h) {
        const at = this.from[code];
        if (this.from[code + 1] - at === n) {
          let k = 0;
          while (k < n && this.arena[at + k] === buf[start + k]) k++;
          if (k === n) return code;
        }
      }
      slot = (slot + 1) & this.mask;
    }
    return this.add(buf, start, end, h, slot);
  }

  /** True when the bytes from `start` on are those of word `code` and then a quote. */
  isAt(code: number, buf: Uint8Array, start: number): boolean {
    const from = this.from[code];
    const n = this.from[code + 1] - from;
    if (buf[start + n] !== 34) return false;
    const arena = this.arena;
    // Neighboring values of a column (times, ids) differ near their ends, if at all.
    for (let k = n - 1; k >= 0; k--) if (arena[from + k] !== buf[start + k]) return false;
    return true;
  }

  length(code: number): number {
    return this.from[code + 1] - this.from[code];
  }

  private add(buf: Uint8Array, start: number, end: number, h: number, slot: number): number {
    const n = end - start;
    const code = this.count++;
    if (this.used + n > this.arena.length) {
      const bigger = new Uint8Array(2 * (this.used + n));
      bigger.set(this.arena.subarray(0, this.used));
      this.arena = bigger;
    }
    if (code + 2 > this.from.length) {
      const from = new Uint32Array(2 * this.from.length);
      from.set(this.from);
      this.from = from;
      const hashes = new Int32Array(2 * this.hashes.length);
      hashes.set(this.hashes);
      this.hashes = hashes;
    }
    this.arena.set(buf.subarray(start, end), this.used);
    this.from[code] = this.used;
    this.used += n;
    this.from[code + 1] = this.used;
    this.hashes[code] = h;
    this.table[slot] = code;
    if (2 * this.count > this.mask) this.rehash();
    return code;
  }

  /** Words crafted to share one hash would be compared one by one, so all are hashed again with a seed. It changes no answer. */
  private reseed(): void {
    this.seed = (Math.floor(Math.random() * 2 ** 32) | 1) >>> 0;
    for (let code = 1; code < this.count; code++)
      this.hashes[code] = seeded(this.arena, this.from[code], this.from[code + 1], this.seed);
    this.fill();
  }

  private rehash(): void {
    this.mask = 2 * this.mask + 1;
    this.fill();
  }

  private fill(): void {
    this.table = new Int32Array(this.mask + 1);
    for (let code = 1; code < this.count; code++) {
      const h = this.hashes[code];
      let slot = (h ^ (h >>> 15)) & this.mask;
      while (this.table[slot] !== 0) slot = (slot + 1) & this.mask;
      this.table[slot] = code;
    }
  }

  /** The words as plain data. */
  pack(): PackedStrings {
    return { arena: this.arena.slice(0, this.used), from: this.from.slice(0, this.count + 1) };
  }

  /** All words as text, index 0 the empty one. `decode` is asked only for words that are not plain ASCII. */
  list(decode: (bytes: Uint8Array) => string): string[] {
    const out: string[] = [''];
    // One letter a byte, whatever the byte: words are then cut out of a long text, which is much faster than making each from bytes.
    const letters = new TextDecoder('windows-1252');
    for (let code = 1; code < this.count; ) {
      const first = this.from[code];
      let stop = code + 1;
      while (stop < this.count && this.from[stop + 1] - first < PIECE) stop++;
      const text = letters.decode(this.arena.subarray(first, this.from[stop]));
      for (; code < stop; code++) {
        const a = this.from[code];
        const b = this.from[code + 1];
        let i = a;
        while (i < b && this.arena[i] < 128) i++;
        out.push(i === b ? text.slice(a - first, b - first) : decode(this.arena.subarray(a, b)));
      }
    }
    return out;
  }
}

/** Word w is `arena[from[w]..from[w + 1])`; word 0 is the empty one. */
export interface PackedStrings {
  arena: Uint8Array;
  from: Uint32Array;
}

/** Probes for one word, in a table at most half full, beyond which chance is no explanation. */
const MANY_LOOKS = 256;

function seeded(buf: Uint8Array, start: number, end: number, seed: number): number {
  let h = seed | 0;
  for (let i = start; i < end; i++) {
    h = Math.imul(h ^ buf[i], 0x9e3779b1);
    h ^= h >>> 15;
  }
  return h;
}

/** Bytes of words made into text at a time. */
const PIECE = 1 << 16;
