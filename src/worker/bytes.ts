import type { NamedBytes } from '../core/intake/types.ts';

/** A file of the browser, or a part of one, as named bytes. */
export function namedBytes(file: Blob, name: string): NamedBytes {
  return {
    name,
    sizeBytes: file.size,
    async *chunks() {
      const reader = file.stream().getReader();
      try {
        for (let part = await reader.read(); !part.done; part = await reader.read()) yield part.value;
      } finally {
        reader.releaseLock();
      }
    },
  };
}
