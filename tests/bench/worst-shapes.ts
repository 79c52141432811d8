/** Maps that no planter draws, as GeoJSON: `size` of something that has to be held against every other. */

type Point = readonly [number, number];

const DIGITS = 7;
const [LON, LAT] = [-93.5, 42];
/** One hundred-thousandth of a degree, about a meter. */
const STEP = 1e-5;

const point = ([x, y]: Point): string => `[${(LON + x).toFixed(DIGITS)},${(LAT + y).toFixed(DIGITS)}]`;
const feature = (rings: readonly (readonly Point[])[]): string =>
  `{"type":"Feature","properties":{},"geometry":{"type":"Polygon","coordinates":[${rings
    .map((r) => `[${[...r, r[0]].map(point).join(',')}]`)
    .join(',')}]}}`;
const collection = (features: readonly string[]): string =>
  `{"type":"FeatureCollection","features":[\n${features.join(',\n')}\n]}`;
const box = (x0: number, y0: number, x1: number, y1: number): Point[] => [
  [x0, y0],
  [x1, y0],
  [x1, y1],
  [x0, y1],
];
const each = <T>(n: number, of: (i: number) => T): T[] => Array.from({ length: n }, (_, i) => of(i));
/** -10 to 10, the same for the same i. */
const jitter = (i: number): number => Math.round(((Math.sin(i * 12.9898) * 43_758.5453) % 1) * 10);

/** A comb of n teeth, half as wide as the space that they stand in and n steps long. */
function comb(n: number): Point[] {
  const teeth = each(n, (i): Point[] => [
    [i * STEP, 0],
    [i * STEP, n * STEP],
    [(i + 0.5) * STEP, n * STEP],
    [(i + 0.5) * STEP, 0],
  ]).flat();
  return [...teeth, [n * STEP, 0], [n * STEP, -STEP], [0, -STEP]];
}

export const WORST = {
  /** n strips one way and n across them: n² crossings. */
  strips: (n: number): string =>
    collection([
      ...each(n, (i) => feature([box(i * STEP, 0, (i + 0.5) * STEP, n * STEP)])),
      ...each(n, (i) => feature([box(0, i * STEP, n * STEP, (i + 0.5) * STEP)])),
    ]),
  /** Two combs of n teeth across one another. */
  comb: (n: number): string =>
    collection([
      feature([comb(n)]),
      feature([
        comb(n)
          .map(([x, y]): Point => [y, x])
          .reverse(),
      ]),
    ]),
  /** n records on nearly the same ground. */
  near: (n: number): string =>
    collection(
      each(n, (i) =>
        feature([
          box(0, 0, 6 * STEP, 2 * STEP).map(
            ([x, y], k): Point => [x + jitter(8 * i + 2 * k) * 1e-7, y + jitter(8 * i + 2 * k + 1) * 1e-7],
          ),
        ]),
      ),
    ),
  /** n records on the same ground. */
  spot: (n: number): string => collection(each(n, () => feature([box(0, 0, 6 * STEP, 2 * STEP)]))),
  /** One record of n holes, each in the one before. */
  nested: (n: number): string =>
    collection([
      feature(each(n + 1, (i) => box(i * 1e-7, i * 1e-7, (2 * n + 10 - i) * 1e-7, (2 * n + 10 - i) * 1e-7))),
    ]),
  /** n records of 19 degrees' length. */
  long: (n: number): string => collection(each(n, (i) => feature([box(0, i * 1e-4, 19, i * 1e-4 + 5e-5)]))),
} as const;
