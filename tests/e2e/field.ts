/** A plain field for driving the page: straight passes north and south, sections side by side. Shares nothing with `src`. */
export interface FieldOptions {
  passes: number;
  bars: number;
  /** Width of each recorded section, meters, left to right facing travel. */
  sectionsM: readonly number[];
  /** Distance from pass to pass, meters. */
  spacingM: number;
  barM?: number;
  properties?: (record: number, section: number) => Record<string, unknown>;
}

/** Meters per degree near 42° N, good to a part in a thousand: the field is made to look at and to send through the page, not to measure by. */
const NORTH = 111_073;
const EAST = 82_812;
const AT: readonly [number, number] = [-93.62, 42.03];

export function fieldGeoJson(o: FieldOptions): string {
  const barM = o.barM ?? 2;
  const width = o.sectionsM.reduce((a, b) => a + b, 0);
  const edges = [0];
  for (const s of o.sectionsM) edges.push(edges[edges.length - 1] + s);
  const features: unknown[] = [];
  for (let p = 0; p < o.passes; p++) {
    const up = p % 2 === 0;
    for (let b = 0; b < o.bars; b++) {
      // A logger does not start every pass on the same line.
      const back = (up ? b * barM : (o.bars - b) * barM) + ((p * 0.37) % 1) * barM;
      const front = up ? back + barM : back - barM;
      for (let s = 0; s < o.sectionsM.length; s++) {
        // Left of travel is west going north, and east going south.
        const side = up ? 1 : -1;
        const left = p * o.spacingM + side * (edges[s] - width / 2);
        const right = p * o.spacingM + side * (edges[s + 1] - width / 2);
        const ring = [
          [left, back],
          [right, back],
          [right, front],
          [left, front],
          [left, back],
        ].map(([x, y]) => [round(AT[0] + x / EAST), round(AT[1] + y / NORTH)]);
        features.push({
          type: 'Feature',
          properties: { Section: s + 1, Time: stamp(p, b), ...o.properties?.(features.length + 1, s) },
          geometry: { type: 'Polygon', coordinates: [ring] },
        });
      }
    }
  }
  return JSON.stringify({ type: 'FeatureCollection', features });
}

/** One bar a second, half a minute for a turn. */
function stamp(pass: number, bar: number): string {
  return new Date(Date.UTC(2026, 3, 28, 14, 0, 0) + 1000 * (pass * 1000 + bar)).toISOString();
}

/** 1e-8 degree: about a millimeter. */
function round(v: number): number {
  return Math.round(v * 1e8) / 1e8;
}

/** A frame of 12 rows at 30 in, four sections, as a planter file. */
export const TWELVE = {
  name: 'Twelve-row frame',
  unit: 'in',
  rows: 12,
  rowSpacing: 30,
  plantings: { every: 'all' },
  sections: ['1-3', '4-6', '7-9', '10-12'],
};

/** A frame of 15 rows at 15 in, eight sections, as a planter file. */
export const FIFTEEN = {
  name: 'Fifteen-row split frame',
  unit: 'in',
  rows: 15,
  rowSpacing: 15,
  plantings: { narrow: 'all', wide: 'odd' },
  sections: ['1-2', '3-4', '5-6', '7', '8-9', '10-11', '12-13', '14-15'],
  drives: ['1-15'],
  passSpacing: { narrow: 225, wide: 240 },
};
