/** Maps of a few straight passes, drawn in meters by hand for one question each. Shares nothing with `src`, with the generator or with the simulator. */

/** One pass from (x0, y0) to (x1, y1): the middle of the frame on the ground, meters east and north. */
export interface Pass {
  from: readonly [number, number];
  to: readonly [number, number];
  /** Seconds since the first midnight; left out where the map has no times. */
  atS?: number;
  speedMPerS?: number;
  /** Meters from one log instant to the next, and the length of the first record. */
  everyM?: number;
  firstM?: number;
  /** How far the pass is drawn ahead of where it was planted, meters. */
  aheadM?: number;
}

interface Options {
  sectionsM: readonly number[];
  /** A number that orders the records anew; left out: as they were logged. */
  shuffle?: number;
  /** Coordinates from meters east and north. */
  place?: (x: number, y: number) => [number, number];
  crs?: string;
}

/** Near 42 degrees north, meters per degree (good to a part in a thousand). */
const degrees = (x: number, y: number): [number, number] => [
  Number((-93.62 + x / 82_812).toFixed(9)),
  Number((42.03 + y / 111_073).toFixed(9)),
];

export function drawPasses(passes: readonly Pass[], o: Options): string {
  const width = o.sectionsM.reduce((a, b) => a + b, 0);
  const place = o.place ?? degrees;
  const features: object[] = [];
  for (const p of passes) {
    const [dx, dy] = [p.to[0] - p.from[0], p.to[1] - p.from[1]];
    const long = Math.hypot(dx, dy);
    const [ux, uy] = [dx / long, dy / long];
    const every = p.everyM ?? 2;
    const at = (m: number, right: number): [number, number] =>
      place(p.from[0] + ux * (m + (p.aheadM ?? 0)) + uy * right, p.from[1] + uy * (m + (p.aheadM ?? 0)) - ux * right);
    for (let m = 0; m < long - 1e-9; ) {
      const end = Math.min(long, m === 0 ? (p.firstM ?? every) : m + every);
      let left = -width / 2;
      for (const s of o.sectionsM) {
        const ring = [at(m, left), at(m, left + s), at(end, left + s), at(end, left), at(m, left)];
        const time =
          p.atS === undefined
            ? {}
            : {
                Time: new Date(
                  Date.UTC(2026, 4, 4) + 1000 * Math.floor(p.atS + end / (p.speedMPerS ?? 2)),
                ).toISOString(),
              };
        features.push({ type: 'Feature', properties: time, geometry: { type: 'Polygon', coordinates: [ring] } });
        left += s;
      }
      m = end;
    }
  }
  const k = o.shuffle;
  const order =
    k === undefined
      ? features
      : features
          .map((f, i) => [((i + 1) * k) % 7919, f] as const)
          .sort((a, b) => a[0] - b[0])
          .map(([, f]) => f);
  const crs = o.crs === undefined ? {} : { crs: { type: 'name', properties: { name: o.crs } } };
  return JSON.stringify({ type: 'FeatureCollection', ...crs, features: order });
}

/** A planter of `rows` rows with a section for each of the given numbers of rows. */
export function planterJson(rows: number, spacing: number, unit: 'in' | 'cm', sections: readonly number[]): string {
  let first = 1;
  const runs = sections.map((n) => {
    first += n;
    return n === 1 ? `${first - 1}` : `${first - n}-${first - 1}`;
  });
  return JSON.stringify({
    name: 'Planter of the day',
    unit,
    rows,
    rowSpacing: spacing,
    plantings: { all: 'all' },
    sections: runs,
  });
}
