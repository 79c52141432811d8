/** What is smaller is copied: that takes no time, and the constants of a module, such as the empty set of shapes, are still there for the next answer. */
const MOVED_FROM_BYTES = 1024;

/** Every large buffer below `value`, each once, so that arrays move to the page instead of being copied. */
export function buffersOf(value: unknown): ArrayBuffer[] {
  const seen = new Set<unknown>();
  const found = new Set<ArrayBuffer>();
  const walk = (v: unknown): void => {
    if (typeof v !== 'object' || v === null || seen.has(v)) return;
    seen.add(v);
    const buffer = ArrayBuffer.isView(v) ? v.buffer : v;
    if (buffer instanceof ArrayBuffer) {
      if (buffer.byteLength >= MOVED_FROM_BYTES) found.add(buffer);
    } else if (!ArrayBuffer.isView(v)) {
      for (const inner of Object.values(v)) walk(inner);
    }
  };
  walk(value);
  return [...found];
}
