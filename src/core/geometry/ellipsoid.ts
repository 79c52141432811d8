/** WGS84 (EPSG:4326): semi-major axis, meters, and flattening. */
export const WGS84_A = 6378137;
export const WGS84_F = 1 / 298.257223563;

/**
 * Length in meters of a degree of longitude and of latitude on WGS84 at latitude `lat` (degrees), from the radii of curvature in the prime vertical
 * and in the meridian (Snyder, Map Projections: A Working Manual, USGS Professional Paper 1395, 1987, equations 4-20 and 4-18). Over 20 m to a side the
 * error is below 0.1 mm up to latitude 75.
 */
export function metersPerDegree(lat: number): [lon: number, lat: number] {
  const e2 = WGS84_F * (2 - WGS84_F);
  const phi = (lat * Math.PI) / 180;
  const w2 = 1 - e2 * Math.sin(phi) ** 2;
  const prime = WGS84_A / Math.sqrt(w2);
  const meridian = (prime * (1 - e2)) / w2;
  return [(prime * Math.cos(phi) * Math.PI) / 180, (meridian * Math.PI) / 180];
}
