/** Every buffer below `value`, each once, so that arrays move to the page instead of being copied. */
export function buffersOf(value: unknown): ArrayBuffer[] {
  const seen = new Set<unknown>();
  const found = new Set<ArrayBuffer>();
  const walk = (v: unknown): void => {
    if (typeof v !== 'object' || v === null || seen.has(v)) return;
    seen.add(v);
    if (ArrayBuffer.isView(v)) {
      if (v.buffer instanceof ArrayBuffer) found.add(v.buffer);
    } else if (v instanceof ArrayBuffer) {
      found.add(v);
    } else {
      for (const inner of Object.values(v)) walk(inner);
    }
  };
  walk(value);
  return [...found];
}
