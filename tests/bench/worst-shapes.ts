/** Maps that no planter draws, as GeoJSON: `size` of something that may have to be compared with every other. */

type Point = readonly [number, number];

const DIGITS = 7;
const [LON, LAT] = [-93.5, 42];
/** One hundred-thousandth of a degree, about a meter. */
const STEP = 1e-5;
/** The last digit, about a centimeter. */
const LAST = 1e-7;

const point = ([x, y]: Point): string => `[${(LON + x).toFixed(DIGITS)},${(LAT + y).toFixed(DIGITS)}]`;
const feature = (rings: readonly (readonly Point[])[], properties: object = {}): string =>
  `{"type":"Feature","properties":${JSON.stringify(properties)},"geometry":{"type":"Polygon","coordinates":[${rings
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
/** 0 to 1, the same for the same i. */
const chance = (i: number): number => Math.abs((Math.sin(i * 12.9898) * 43_758.5453) % 1);
const jitter = (i: number): number => Math.round(20 * chance(i) - 10) * LAST;

/** A comb of n teeth, half as wide as the space between them and `length` long. */
function comb(n: number, length: number): Point[] {
  const teeth = each(n, (i): Point[] => [
    [i * STEP, 0],
    [i * STEP, length],
    [(i + 0.5) * STEP, length],
    [(i + 0.5) * STEP, 0],
  ]).flat();
  return [...teeth, [n * STEP, 0], [n * STEP, -STEP], [0, -STEP]];
}
const across = (ring: readonly Point[]): Point[] => ring.map(([x, y]): Point => [y, x]).reverse();

/** A star of n points around a middle, far enough in that it does not cross itself. */
const round = (n: number, x: number, y: number, radius: number): Point[] =>
  each(n, (i): Point => {
    const r = radius - (i % 2 === 0 ? 0 : 0.5 * STEP);
    return [x + r * Math.cos((2 * Math.PI * i) / n), y + r * Math.sin((2 * Math.PI * i) / n)];
  });

/** Ring i of those that lie side by side, with `corners` corners in any order. */
const tangled = (i: number, corners: number): Point[] =>
  each(corners, (k): Point => {
    const at = 2 * (corners * i + k);
    return [(20 * (i % 50) + 19 * chance(at)) * STEP, (20 * Math.floor(i / 50) + 19 * chance(at + 1)) * STEP];
  });

interface Shape {
  what: string;
  /** Up to the largest that are answered, then large ones: what a limit refuses late costs most. */
  sizes: readonly number[];
  draw(size: number): string;
}

export const WORST = {
  strips: {
    what: 'n strips one way and n across them: n² crossings',
    sizes: [100, 200, 350, 800, 1600],
    draw: (n) =>
      collection([
        ...each(n, (i) => feature([box(i * STEP, 0, (i + 0.5) * STEP, n * STEP)])),
        ...each(n, (i) => feature([box(0, i * STEP, n * STEP, (i + 0.5) * STEP)])),
      ]),
  },
  combs: {
    what: 'two combs of n teeth across one another: n² crossings of two records',
    sizes: [100, 200, 400, 1600],
    draw: (n) => collection([feature([comb(n, n * STEP)]), feature([across(comb(n, n * STEP))])]),
  },
  specks: {
    what: 'a comb of n long teeth, and n small records on it',
    sizes: [2000, 4000, 8000, 32_000],
    draw: (n) =>
      collection([
        feature([comb(n, 2 * n * STEP)]),
        ...each(n, (i) => {
          const [x, y] = [chance(2 * i) * n * STEP, chance(2 * i + 1) * 2 * n * STEP];
          return feature([box(x, y, x + STEP, y + STEP)]);
        }),
      ]),
  },
  near: {
    what: 'n records on nearly the same ground',
    sizes: [500, 1000, 2000, 20_000, 100_000],
    draw: (n) =>
      collection(
        each(n, (i) =>
          feature([
            box(0, 0, 6 * STEP, 2 * STEP).map(
              ([x, y], k): Point => [x + jitter(8 * i + 2 * k), y + jitter(8 * i + 2 * k + 1)],
            ),
          ]),
        ),
      ),
  },
  spot: {
    what: 'n records on the same ground',
    sizes: [12_500, 25_000, 50_000, 200_000],
    draw: (n) => collection(each(n, () => feature([box(0, 0, 6 * STEP, 2 * STEP)]))),
  },
  spots: {
    what: 'n records on the same ground, and n with a corner a centimeter off each',
    sizes: [500, 1000, 2000, 20_000],
    draw: (n) =>
      collection(
        each(2 * n, (i) =>
          feature([
            [
              [0, 0],
              [6 * STEP, 0],
              [6 * STEP + (i < n ? 0 : i * LAST), 2 * STEP],
              [0, 2 * STEP],
            ],
          ]),
        ),
      ),
  },
  diagonal: {
    what: 'n thin strips side by side, slanted, so that every box meets every other and no strip does',
    sizes: [2000, 4000, 8000, 64_000],
    draw: (n) =>
      collection(
        each(n, (i) => {
          const [a, b] = [2 * i * LAST, (2 * i + 1) * LAST];
          const l = 2 * n * LAST + 200 * STEP;
          return feature([
            [
              [a, 0],
              [b, 0],
              [b + l, l],
              [a + l, l],
            ],
          ]);
        }),
      ),
  },
  long: {
    what: 'n strips of a section each, a mile long with four corners, none of which is wrong',
    sizes: [800, 1600, 3200],
    draw: (n) => collection(each(n, (i) => feature([box(0, i * 0.76 * STEP, 1930 * STEP, (i + 1) * 0.76 * STEP)]))),
  },
  slanted: {
    what: 'n strips of a section each, half a mile at 45 degrees with a point every 4 m, none of which is wrong',
    sizes: [800, 1600, 3200],
    draw: (n) =>
      collection(
        each(n, (i) => {
          const [a, b] = [i, i + 1].map((k) => k * 0.76 * Math.SQRT2 * STEP);
          const along = (x: number): Point[] =>
            each(200, (k): Point => [x + 2.8 * k * STEP + jitter(200 * i + k) * 0.1, 2.8 * k * STEP]);
          return feature([[...along(b), ...along(a).reverse()]]);
        }),
      ),
  },
  open: {
    what: 'n bars, each a rectangle by itself, its heading off by up to a quarter of a degree, with every seam open: none of which is wrong',
    sizes: [10_000, 20_000, 40_000],
    draw: (n) => {
      const length = Math.ceil(Math.sqrt(3 * n));
      return collection(
        each(n, (i) => {
          const [pass, along] = [Math.floor(i / length), i % length];
          const [x, y] = [8.1 * pass, 2 * (pass % 2 === 0 ? along : length - 1 - along)];
          const tilt = 0.01 * (chance(i) - 0.5);
          return feature(
            [box(0, 0, 7.7, 2).map(([u, v]): Point => [(x + u - tilt * v) * STEP, (y + v + tilt * u) * STEP])],
            {
              time: i + 60 * pass,
            },
          );
        }),
      );
    },
  },
  fan: {
    what: 'n triangles around one point',
    sizes: [100, 200, 400, 2000, 64_000],
    draw: (n) =>
      collection(
        each(n, (i) => {
          const at = (k: number): Point => {
            const t = (2 * Math.PI * k) / n;
            return [500 * STEP * Math.cos(t), 500 * STEP * Math.sin(t)];
          };
          return feature([[[0, 0], at(i), at(i + 1)]]);
        }),
      ),
  },
  nested: {
    what: 'one record of n holes, each in the one before',
    sizes: [500, 1000, 2000, 80_000],
    draw: (n) =>
      collection([
        feature(each(n + 1, (i) => box(i * LAST, i * LAST, (2 * n + 10 - i) * LAST, (2 * n + 10 - i) * LAST))),
      ]),
  },
  holes: {
    what: 'an outline of 15 n points with n holes, none of which is wrong',
    sizes: [1000, 2000, 4000, 16_000],
    draw: (n) => {
      const side = Math.ceil(Math.sqrt(n));
      const radius = Math.max(2 * side, 0.6 * n) * STEP;
      return collection([
        feature([
          round(15 * n, 0, 0, radius),
          ...each(n, (i) => {
            const [x, y] = [((i % side) - side / 2) * 2 * STEP, (Math.floor(i / side) - side / 2) * 2 * STEP];
            return box(x, y, x + STEP, y + STEP).reverse();
          }),
        ]),
      ]);
    },
  },
  tangle: {
    what: 'one record whose ring has n corners in any order',
    sizes: [250, 500, 1000, 100_000],
    draw: (n) =>
      collection([feature([each(n, (i): Point => [chance(2 * i) * 200 * STEP, chance(2 * i + 1) * 200 * STEP])])]),
  },
  tangles: {
    what: 'n records whose rings have 60 corners in any order, side by side',
    sizes: [250, 500, 1000, 4000],
    draw: (n) => collection(each(n, (i) => feature([tangled(i, 60)]))),
  },
  corners: {
    what: 'n records whose rings have 20 corners in any order, side by side',
    sizes: [1250, 2500, 5000, 12_000],
    draw: (n) => collection(each(n, (i) => feature([tangled(i, 20)]))),
  },
  endless: {
    what: 'n records of 19 degrees length',
    sizes: [1, 2, 4, 1000],
    draw: (n) => collection(each(n, (i) => feature([box(0, i * 1e-4, 19, i * 1e-4 + 5e-5)]))),
  },
  apart: {
    what: 'n records, each far from every other',
    sizes: [5000, 10_000, 20_000, 80_000],
    draw: (n) => {
      const side = Math.ceil(Math.sqrt(n));
      return collection(
        each(n, (i) => {
          const [x, y] = [((i % side) * 2) / side, (Math.floor(i / side) * 2) / side];
          return feature([box(x, y, x + STEP, y + STEP)]);
        }),
      );
    },
  },
  zigzag: {
    what: 'one pass of n bars that turns back on itself at every tenth bar',
    sizes: [5000, 10_000, 20_000, 80_000],
    draw: (n) =>
      collection(
        each(n, (i) => {
          const k = i % 20;
          const [x, y] = [(k < 10 ? k : 19 - k) * 2 * STEP, Math.floor(i / 10) * 6 * STEP + (i % 7) * LAST];
          return feature([box(x, y, x + 2 * STEP, y + 6 * STEP)], { time: i });
        }),
      ),
  },
  texts: {
    what: 'n records in a row, each with texts of its own in 20 columns',
    sizes: [5000, 10_000, 20_000, 40_000],
    draw: (n) =>
      collection(
        each(n, (i) =>
          feature(
            [box(0, 2 * i * STEP, 6 * STEP, 2 * (i + 1) * STEP)],
            Object.fromEntries(each(20, (c) => [`c${c}`, `${c} of ${i}`])),
          ),
        ),
      ),
  },
} as const satisfies Readonly<Record<string, Shape>>;

export const SHAPES = Object.keys(WORST) as (keyof typeof WORST)[];
