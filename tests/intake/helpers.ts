import { named, type ReadOptions, type RecordSet, read } from '../../src/core/intake/index.ts';
import { UserError } from '../../src/core/shared/messages.ts';
import { partsOf, type Shapefile } from './make-shapefile.ts';

export const utf8 = (text: string): Uint8Array => new TextEncoder().encode(text);

export const readText = (text: string, options: ReadOptions = {}): Promise<RecordSet> =>
  read([named('map.geojson', utf8(text))], options);

export const readJson = (value: unknown): Promise<RecordSet> => readText(JSON.stringify(value));

export const readParts = (parts: Record<string, Uint8Array>, options: ReadOptions = {}): Promise<RecordSet> =>
  read(
    Object.entries(parts).map(([name, bytes]) => named(name, bytes)),
    options,
  );

export const readShapefile = (file: Shapefile): Promise<RecordSet> => readParts(partsOf('field', file));

/** The code of the `UserError` that a reading ends with; 'read' when it ends well. Anything else that is thrown comes out. */
export async function codeOf(reading: Promise<RecordSet>): Promise<string> {
  try {
    await reading;
    return 'read';
  } catch (e) {
    if (e instanceof UserError) {
      if (!/[.!?]$/.test(e.detail.sentence) || !/[.!?]$/.test(e.detail.todo))
        throw new Error(`not a sentence: ${e.message}`);
      return e.detail.code;
    }
    throw e;
  }
}

/** Degrees of every point of a shape, ring by ring. */
export function degrees(set: RecordSet, shape: number): [number, number][][] {
  const { lattice, shapes } = set;
  const rings: [number, number][][] = [];
  for (let r = shapes.shapeStart[shape]; r < shapes.shapeStart[shape + 1]; r++) {
    const ring: [number, number][] = [];
    for (let p = shapes.ringStart[r]; p < shapes.ringStart[r + 1]; p++) {
      ring.push([
        (lattice.originX + shapes.xy[2 * p]) / lattice.stepsPerDegree,
        (lattice.originY + shapes.xy[2 * p + 1]) / lattice.stepsPerDegree,
      ]);
    }
    rings.push(ring);
  }
  return rings;
}

/** Signed area of a ring, + counter-clockwise (shoelace). */
export function signedArea(ring: readonly (readonly [number, number])[]): number {
  let sum = 0;
  ring.forEach(([x, y], i) => {
    const [nx, ny] = ring[(i + 1) % ring.length];
    sum += (x - ring[0][0]) * (ny - ring[0][1]) - (nx - ring[0][0]) * (y - ring[0][1]);
  });
  return sum / 2;
}

/** Values of a column, missing as null. */
export function valuesOf(set: RecordSet, name: string): (string | number | null)[] {
  const column = set.columns.find((c) => c.name === name);
  if (!column) throw new Error(`no column ${name}`);
  if (column.kind === 'number') return Array.from(column.values, (v) => (Number.isNaN(v) ? null : v));
  return Array.from(column.codes, (c) => (c === 0 ? null : column.words[c]));
}

export const noteCodes = (set: RecordSet): string[] => set.notes.map((n) => n.code);

/** A closed counter-clockwise square, its lower left corner at (x, y), as GeoJSON wants an outer ring. */
export function square(x: number, y: number, side = 1e-5): [number, number][] {
  const q = (v: number): number => Math.round(v * 1e9) / 1e9;
  return [
    [x, y],
    [q(x + side), y],
    [q(x + side), q(y + side)],
    [x, q(y + side)],
    [x, y],
  ];
}

export function feature(coordinates: unknown, properties: unknown = {}, type = 'Polygon'): unknown {
  return { type: 'Feature', properties, geometry: { type, coordinates } };
}

export const collection = (features: unknown[], more: object = {}): object => ({
  type: 'FeatureCollection',
  ...more,
  features,
});

/** Small seeded generator (mulberry32), so that a failing round can be run again. */
export function seeded(seed: number): () => number {
  let a = seed;
  return () => {
    a = (a + 0x6d2b79f5) | 0;
    let t = Math.imul(a ^ (a >>> 15), 1 | a);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}
