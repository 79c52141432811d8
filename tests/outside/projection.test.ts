import geodesicLibrary from 'geographiclib-geodesic';
import proj4 from 'proj4';
import { describe, expect, test } from 'vitest';
import { planeFor } from '../../src/core/plane/index.ts';
import { makeMercator } from '../../src/core/plane/mercator.ts';

const { Geodesic } = geodesicLibrary;
const rad = Math.PI / 180;

// IOGP/EPSG Guidance Note 7-2, method 9807 (Transverse Mercator), worked example on the Airy ellipsoid.
test('Transverse Mercator worked example of EPSG method 9807', () => {
  const tm = makeMercator(49 * rad, { a: 6377563.396, f: 1 / 299.32496 });
  const out = new Float64Array(2);
  tm.forward((0.5 + 2) * rad, 50.5 * rad, out);
  const k0 = 0.9996013;
  expect(Math.abs(400_000 + k0 * out[0] - 577_274.99)).toBeLessThan(0.01);
  expect(Math.abs(-100_000 + k0 * out[1] - 69_740.5)).toBeLessThan(0.01);
  tm.inverse((577_274.99 - 400_000) / k0, (69_740.5 + 100_000) / k0, out);
  expect(out[0] / rad).toBeCloseTo(2.5, 6);
  expect(out[1] / rad).toBeCloseTo(50.5, 6);
});

// WGS84 UTM points: GeographicLib 2.1.2 GeoConvert and PROJ 9.1.1. Scale 0.9996, false easting 500,000 m.
describe('UTM points', () => {
  test.each([
    [42, -93.6, 15, 450_309.3304, 4_649_950.3224],
    [40, -87, 16, 500_000, 4_427_757.2187],
    [45, -117, 11, 500_000, 4_982_950.4002],
    [60, 15, 33, 500_000, 6_651_411.1904],
    [0, 3, 31, 500_000, 0],
  ])('%d, %d in zone %d: %d E, %d N', (lat, lon, zone, east, north) => {
    const out = new Float64Array(2);
    makeMercator(0).forward((lon - (6 * zone - 183)) * rad, lat * rad, out);
    expect(Math.abs(500_000 + 0.9996 * out[0] - east)).toBeLessThan(0.001);
    expect(Math.abs(0.9996 * out[1] - north)).toBeLessThan(0.001);
  });

  // Far from the central meridian (170 to 260 km), where no field of this tool lies: the series still holds a centimeter.
  test.each([
    [40, -89, 16, 329_274.5057, 4_429_672.9731],
    [40, -90, 16, 243_900.352, 4_432_069.0569],
    [49.5, -96.67, 14, 668_702.4336, 5_485_649.8688],
  ])('%d, %d in zone %d: %d E, %d N', (lat, lon, zone, east, north) => {
    const out = new Float64Array(2);
    makeMercator(0).forward((lon - (6 * zone - 183)) * rad, lat * rad, out);
    expect(Math.abs(500_000 + 0.9996 * out[0] - east)).toBeLessThan(0.01);
    expect(Math.abs(0.9996 * out[1] - north)).toBeLessThan(0.01);
  });
});

/** A plane over a map that reaches `halfDeg` to all sides of a point, on a lattice of 1e-9 degree. */
function planeAt(lat: number, lon: number, halfDeg: number) {
  const per = 1e9;
  const lattice = { stepsPerDegree: per, originX: Math.round(lon * per), originY: Math.round(lat * per) };
  const h = Math.round(halfDeg * per);
  return planeFor(lattice, { minX: -h, minY: -h, maxX: h, maxY: h });
}

describe('the local plane against proj4 (+proj=tmerc, WGS84), 1 mm over 20 km', () => {
  test.each([
    [0, 10],
    [30, -89],
    [41.9, -93.6],
    [52, 179.9999],
    [-35, 149],
    [65, 25],
  ])('around %d, %d', (lat, lon) => {
    const plane = planeAt(lat, lon, 0.18);
    const to = proj4('WGS84', `+proj=tmerc +lat_0=${lat} +lon_0=${lon} +k=1 +ellps=WGS84 +units=m`);
    const out = new Float64Array(2);
    const back = new Float64Array(2);
    for (const [dx, dy] of [
      [0, 0],
      [0.17, 0.17],
      [-0.17, 0.17],
      [0.1, -0.17],
      [-0.02, -0.01],
    ]) {
      const xy = [Math.round(dx * 1e9), Math.round(dy * 1e9)];
      plane.toMeters(xy, 0, 1, out);
      const want = to.forward([lon + xy[0] / 1e9, lat + xy[1] / 1e9]);
      expect(Math.hypot(out[0] - want[0], out[1] - want[1])).toBeLessThan(0.001);
      plane.toSteps(out, 1, back);
      // 1e-9 degree is about 0.1 mm.
      expect(Math.hypot(back[0] - xy[0], back[1] - xy[1])).toBeLessThan(1);
    }
  });
});

// Meters per degree on WGS84 from the radii of curvature; the published series 111132.92 - 559.82 cos 2p + 1.175 cos 4p and
// 111412.84 cos p - 93.5 cos 3p + 0.118 cos 5p (encyclopedia copy) agrees within 0.06 m.
describe('length of a degree', () => {
  test.each([
    [0, 110_574.2758, 111_319.4908],
    [15, 110_648.6962, 107_550.4887],
    [30, 110_852.4425, 96_486.2803],
    [40, 111_034.6326, 85_393.857],
    [45, 111_131.7774, 78_846.8351],
    [60, 111_412.2875, 55_800.0016],
    [75, 111_618.3841, 28_902.0058],
  ])('at %d degrees: %d m of latitude, %d m of longitude', (lat, alongLat, alongLon) => {
    const [x, y] = planeAt(lat, -89, 0.01).stepsPerMeter;
    expect(1e9 / y).toBeCloseTo(alongLat, 3);
    expect(1e9 / x).toBeCloseTo(alongLon, 3);
    const p = lat * rad;
    expect(
      Math.abs(1e9 / y - (111_132.92 - 559.82 * Math.cos(2 * p) + 1.175 * Math.cos(4 * p) - 0.0023 * Math.cos(6 * p))),
    ).toBeLessThan(0.06);
    expect(
      Math.abs(1e9 / x - (111_412.84 * Math.cos(p) - 93.5 * Math.cos(3 * p) + 0.118 * Math.cos(5 * p))),
    ).toBeLessThan(0.06);
  });
});

test('distances of field size agree with the geodesic (geographiclib-geodesic) to 1e-7', () => {
  const plane = planeAt(40, -89, 0.01);
  const out = new Float64Array(4);
  plane.toMeters([-4_000_000, 3_000_000, 6_000_000, -5_000_000], 0, 2, out);
  const want = Geodesic.WGS84.Inverse(40.003, -89.004, 39.995, -88.994).s12!;
  expect(Math.abs(Math.hypot(out[2] - out[0], out[3] - out[1]) / want - 1)).toBeLessThan(1e-7);
});

// GeographicLib 2.1.2 (GeodSolve): a quarter mile east and a quarter mile north of 40, -89.
test.each([
  [90, 39.99999990423483, -88.99528846671231],
  [0, 40.00362351695595, -89],
])('402.336 m from 40, -89 at azimuth %d', (azimuth, lat, lon) => {
  const plane = planeAt(40, -89, 0.01);
  const out = new Float64Array(2);
  plane.toSteps([402.336 * Math.sin(azimuth * rad), 402.336 * Math.cos(azimuth * rad)], 1, out);
  expect(Math.abs(-89 + out[0] / 1e9 - lon)).toBeLessThan(1e-9);
  expect(Math.abs(40 + out[1] / 1e9 - lat)).toBeLessThan(1e-9);
});
