/** What the page asks of the core: ordinary functions. Their type is the protocol between the page and its worker. */
import type { Answer } from '../core/answer.ts';
import { check } from '../core/check.ts';
import { read } from '../core/intake/index.ts';
import type { NamedBytes } from '../core/intake/types.ts';
import type { Planter } from '../core/planter/types.ts';

export type Progress = (stage: string, done: number) => void;

export interface CheckRequest {
  map: File[];
  planter: Planter;
  planting?: string;
  boundary?: File[];
  /** Column names per role, as the user chose them. */
  columns?: Record<string, string>;
  layer?: string;
}

/** The whole check. Throws `UserError` when the input cannot be worked with. */
export function checkMap(request: CheckRequest, progress: Progress): Promise<Answer> {
  const { map, planter, planting, boundary, columns, layer } = request;
  return check(
    {
      map: map.map(namedBytes),
      planter,
      ...(planting ? { planting } : {}),
      ...(boundary?.length ? { boundary: boundary.map(namedBytes) } : {}),
      ...(columns ? { columns } : {}),
      ...(layer ? { layer } : {}),
    },
    { progress },
  );
}

/** Names of the attribute columns of a map, in the order of the file. Reads the map once more: a check does not keep its columns. */
export async function columnNames(map: File[], layer: string, progress: Progress): Promise<string[]> {
  const records = await read(map.map(namedBytes), layer ? { layer } : {}, (done) =>
    progress('reading the columns', done),
  );
  return records.columns.map((c) => c.name);
}

export const api = { checkMap, columnNames };
export type Api = typeof api;

/** A file of the browser as named bytes. */
export function namedBytes(file: File): NamedBytes {
  return {
    name: file.name,
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
