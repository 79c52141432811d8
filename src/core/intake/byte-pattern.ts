/** Bytes to search for many times in a file, compared four at a time. */
export class BytePattern {
  readonly text: string;
  readonly bytes: Uint8Array;
  /** The bytes as 32-bit numbers, low byte first; the last one may begin within the one before it. Empty for fewer than four bytes. */
  private readonly fours: Int32Array;

  constructor(text: string, bytes: Uint8Array) {
    this.text = text;
    this.bytes = bytes;
    const n = bytes.length;
    const view = new DataView(bytes.buffer, bytes.byteOffset, n);
    this.fours = new Int32Array(n < 4 ? 0 : Math.ceil(n / 4));
    for (let k = 0; k < this.fours.length; k++) this.fours[k] = view.getInt32(Math.min(4 * k, n - 4), true);
  }

  /** Whether `view` holds them at `at`. An empty pattern is found nowhere. */
  isAt(view: DataView, at: number): boolean {
    const { fours, bytes } = this;
    const n = bytes.length;
    if (n === 0 || at + n > view.byteLength) return false;
    if (n < 4) {
      for (let k = 0; k < n; k++) if (view.getUint8(at + k) !== bytes[k]) return false;
      return true;
    }
    const last = fours.length - 1;
    for (let k = 0; k < last; k++) if (view.getInt32(at + 4 * k, true) !== fours[k]) return false;
    return view.getInt32(at + n - 4, true) === fours[last];
  }
}

/** Plain ASCII texts as JSON writes them, quotes included. */
export function quoted(texts: readonly string[]): BytePattern[] {
  return texts.map((text) => new BytePattern(text, new TextEncoder().encode(`"${text}"`)));
}
