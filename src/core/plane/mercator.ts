import { WGS84_A, WGS84_F } from '../geometry/ellipsoid.ts';

interface Ellipsoid {
  a: number;
  f: number;
}

export interface Mercator {
  /** Longitude from the central meridian and latitude, radians, to meters east of it and north of the center. */
  forward(lon: number, lat: number, out: Float64Array): void;
  /** Back to longitude from the central meridian and latitude, radians. */
  inverse(east: number, north: number, out: Float64Array): void;
  /** Meters per radian of longitude and of latitude at the center. */
  metersPerRadian(): [number, number];
}

/**
 * Transverse Mercator with scale 1 on the central meridian, north counted from latitude `lat0` (radians).
 * Series of Snyder, Map Projections: A Working Manual (USGS Professional Paper 1395, 1987), equations 8-9 to 8-20, with the meridian
 * arc in the third flattening (7-19 to 7-21 with more terms). Good to well under 1 mm within 20 km of the meridian below 80 degrees;
 * known limit: the series fails near the poles.
 */
export function makeMercator(lat0: number, ellipsoid: Ellipsoid = { a: WGS84_A, f: WGS84_F }): Mercator {
  const { a, f } = ellipsoid;
  const e2 = f * (2 - f);
  const ep2 = e2 / (1 - e2);
  const { radius, toArc, toLat } = meridian(ellipsoid);
  const [m2, m4, m6, m8] = toArc;
  const [i2, i4, i6, i8] = toLat;
  const arc0 =
    radius *
    (lat0 + m2 * Math.sin(2 * lat0) + m4 * Math.sin(4 * lat0) + m6 * Math.sin(6 * lat0) + m8 * Math.sin(8 * lat0));

  return {
    forward(lon, lat, out) {
      const s = Math.sin(lat);
      const c = Math.cos(lat);
      const t = (s / c) * (s / c);
      const cc = ep2 * c * c;
      const bigN = a / Math.sqrt(1 - e2 * s * s);
      const q = lon * c;
      const q2 = q * q;
      // sin of the multiples from one sine and cosine: this is the inner loop of every map.
      const s2 = 2 * s * c;
      const c2 = 1 - 2 * s * s;
      const s4 = 2 * s2 * c2;
      const c4 = 1 - 2 * s2 * s2;
      const s6 = s4 * c2 + c4 * s2;
      const s8 = 2 * s4 * c4;
      const m = radius * (lat + m2 * s2 + m4 * s4 + m6 * s6 + m8 * s8) - arc0;
      out[0] = bigN * q * (1 + (q2 * (1 - t + cc)) / 6 + (q2 * q2 * (5 - 18 * t + t * t + 72 * cc - 58 * ep2)) / 120);
      out[1] =
        m +
        bigN *
          (s / c) *
          q2 *
          (0.5 +
            (q2 * (5 - t + 9 * cc + 4 * cc * cc)) / 24 +
            (q2 * q2 * (61 - 58 * t + t * t + 600 * cc - 330 * ep2)) / 720);
    },
    inverse(east, north, out) {
      const mu = (arc0 + north) / radius;
      const p = mu + i2 * Math.sin(2 * mu) + i4 * Math.sin(4 * mu) + i6 * Math.sin(6 * mu) + i8 * Math.sin(8 * mu);
      const s = Math.sin(p);
      const c = Math.cos(p);
      const tan = s / c;
      const t = tan * tan;
      const cc = ep2 * c * c;
      const w = 1 - e2 * s * s;
      const bigN = a / Math.sqrt(w);
      const r = (a * (1 - e2)) / (w * Math.sqrt(w));
      const d = east / bigN;
      const d2 = d * d;
      out[1] =
        p -
        ((bigN * tan) / r) *
          d2 *
          (0.5 -
            (d2 * (5 + 3 * t + 10 * cc - 4 * cc * cc - 9 * ep2)) / 24 +
            (d2 * d2 * (61 + 90 * t + 298 * cc + 45 * t * t - 252 * ep2 - 3 * cc * cc)) / 720);
      out[0] =
        (d *
          (1 -
            (d2 * (1 + 2 * t + cc)) / 6 +
            (d2 * d2 * (5 - 2 * cc + 28 * t - 3 * cc * cc + 8 * ep2 + 24 * t * t)) / 120)) /
        c;
    },
    metersPerRadian() {
      const s = Math.sin(lat0);
      const w = 1 - e2 * s * s;
      return [(a * Math.cos(lat0)) / Math.sqrt(w), (a * (1 - e2)) / (w * Math.sqrt(w))];
    },
  };
}

interface Meridian {
  /** Of the sphere whose meridian is as long, meters. */
  radius: number;
  /** From latitude to arc over radius, and back: factors of the sines of 2, 4, 6 and 8 times the angle. */
  toArc: [number, number, number, number];
  toLat: [number, number, number, number];
}

/** The series of the meridian arc in the third flattening. */
function meridian({ a, f }: Ellipsoid): Meridian {
  const n = f / (2 - f);
  const n2 = n * n;
  const n3 = n2 * n;
  const n4 = n2 * n2;
  return {
    radius: (a / (1 + n)) * (1 + n2 / 4 + n4 / 64),
    toArc: [-1.5 * n + (9 / 16) * n3, (15 / 16) * n2 - (15 / 32) * n4, -(35 / 48) * n3, (315 / 512) * n4],
    toLat: [1.5 * n - (27 / 32) * n3, (21 / 16) * n2 - (55 / 32) * n4, (151 / 96) * n3, (1097 / 512) * n4],
  };
}
