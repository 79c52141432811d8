/** Meters per degree at 42 degrees north (WGS84, from the radii of curvature). */
const LAT_M = 111_073.2836;
const LON_M = 82_850.7616;

export interface FieldOptions {
  /** Edges of the recorded sections across travel, meters from the middle, left to right. */
  edgesM: number[];
  passSpacingM: number;
  passes?: number;
  bars?: number;
  barM?: number;
}

/** A small square field driven back and forth, straight north and south, as a GeoJSON text. One record per section and bar. */
export function field(o: FieldOptions): string {
  const { edgesM, passSpacingM, passes = 6, bars = 60, barM = 2 } = o;
  const features: unknown[] = [];
  let second = 0;
  for (let p = 0; p < passes; p++) {
    const north = p % 2 === 0;
    for (let b = 0; b < bars; b++, second++) {
      // No two passes log at the same phase.
      const phase = 0.37 * p;
      const y0 = phase + (north ? b : bars - b) * barM;
      const y1 = north ? y0 + barM : y0 - barM;
      for (let s = 0; s + 1 < edgesM.length; s++) {
        const side = north ? 1 : -1;
        const at = (u: number, y: number): [number, number] => [
          Math.round((-93.6 + (p * passSpacingM + side * u) / LON_M) * 1e7) / 1e7,
          Math.round((42 + y / LAT_M) * 1e7) / 1e7,
        ];
        const ring = [at(edgesM[s], y0), at(edgesM[s + 1], y0), at(edgesM[s + 1], y1), at(edgesM[s], y1)];
        features.push({
          type: 'Feature',
          properties: { Time: new Date(Date.UTC(2026, 4, 2, 8) + second * 1000).toISOString(), Section: s + 1 },
          geometry: { type: 'Polygon', coordinates: [[...ring, ring[0]]] },
        });
      }
    }
    second += 20;
  }
  return JSON.stringify({ type: 'FeatureCollection', features });
}
