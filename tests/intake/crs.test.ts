import proj4 from 'proj4';
import { describe, expect, it } from 'vitest';
import { collection, degrees, feature, noteCodes, readJson, readShapefile, square } from './helpers.ts';
import { makeShapefile, rectangle, utmPrj, WGS84_PRJ } from './make-shapefile.ts';

/** Ten-meter square whose lower left corner is (e, n), through a shapefile with this .prj. */
async function corner(e: number, n: number, prj: string): Promise<[number, number]> {
  const set = await readShapefile(makeShapefile({ records: [[rectangle(e, n, e + 10, n + 10)]], prj }));
  const ring = degrees(set, 0)[0];
  return ring.reduce((a, b) => (b[0] + b[1] < a[0] + a[1] ? b : a));
}

/** Meters between two nearby points, on a sphere of the earth's size: good enough to compare millimeters. */
function meters(a: readonly number[], b: readonly number[]): number {
  return 111_200 * Math.hypot((a[0] - b[0]) * Math.cos((a[1] * Math.PI) / 180), a[1] - b[1]);
}

describe('projected coordinates', () => {
  // WGS84 UTM points computed with GeographicLib 2.1.2 (GeoConvert): lat, lon, zone, easting, northing.
  const points = [
    [40, -89, 16, 'N', 329274.5057, 4429672.9731],
    [40, -87, 16, 'N', 500000, 4427757.2187],
    [42, -93.6, 15, 'N', 450309.3304, 4649950.3224],
    [45, -117, 11, 'N', 500000, 4982950.4002],
    [60, 15, 33, 'N', 500000, 6651411.1904],
    [-35, 149, 55, 'S', 682516.0936, 6125129.3653],
    [49.5, -96.67, 14, 'N', 668702.4336, 5485649.8688],
  ] as const;

  it.each(points)(
    '%f %f in zone %i%s, from a .prj and from a crs member, to a millimeter',
    async (lat, lon, zone, half, e, n) => {
      expect(meters(await corner(e, n, utmPrj(zone, half)), [lon, lat])).toBeLessThan(0.001);
      const code = (half === 'N' ? 32600 : 32700) + zone;
      for (const name of [
        `EPSG:${code}`,
        `urn:ogc:def:crs:EPSG::${code}`,
        `http://www.opengis.net/def/crs/EPSG/0/${code}`,
      ]) {
        const set = await readJson(
          collection([feature([square(e, n, 10)])], { crs: { type: 'name', properties: { name } } }),
        );
        expect(meters(degrees(set, 0)[0][0], [lon, lat])).toBeLessThan(0.001);
      }
    },
  );

  it('the worked example of transverse Mercator (IOGP Guidance Note 7-2, method 9807), to a centimeter', async () => {
    // 50 30 N 0 30 E is E 577274.99, N 69740.50 on Airy 1830; the datum is named as WGS84 so that only the projection is tested.
    const prj =
      'PROJCS["x",GEOGCS["y",DATUM["D_WGS_1984",SPHEROID["Airy 1830",6377563.396,299.32496]],PRIMEM["Greenwich",0],UNIT["Degree",0.0174532925199433]],PROJECTION["Transverse_Mercator"],PARAMETER["False_Easting",400000],PARAMETER["False_Northing",-100000],PARAMETER["Central_Meridian",-2],PARAMETER["Scale_Factor",0.9996013],PARAMETER["Latitude_Of_Origin",49],UNIT["Meter",1]]'.replace(
        'D_WGS_1984',
        'Unknown_based_on_Airy_1830',
      );
    expect(meters(await corner(577274.99, 69740.5, prj), [0.5, 50.5])).toBeLessThan(0.02);
  });

  it('feet, and records that share corners keep sharing them', async () => {
    // A US survey foot is 1200/3937 m (NIST SP 811).
    const prj = utmPrj(15, 'N')
      .replace('UNIT["Meter",1.0]', 'UNIT["Foot_US",0.3048006096012192]')
      .replace('500000.0', '1640416.6666666667');
    const ft = 3937 / 1200;
    expect(meters(await corner(450309.3304 * ft, 4649950.3224 * ft, prj), [-93.6, 42])).toBeLessThan(0.001);
    const records = Array.from({ length: 30 }, (_, i) => [
      rectangle(450309.1 + i * 0.762, 4649950.3, 450309.1 + (i + 1) * 0.762, 4649951.7),
    ]);
    const set = await readShapefile(
      makeShapefile({
        records: records.map(([r]) => [r.map(([x, y]): [number, number] => [Math.round(x * 1000) / 1000, y])]),
        prj: utmPrj(15, 'N'),
      }),
    );
    const seen = new Set<string>();
    for (let i = 0; i < 60 * 4; i += 2) seen.add(`${set.shapes.xy[i]},${set.shapes.xy[i + 1]}`);
    // Thirty sections side by side have 62 corners, not 120.
    expect(seen.size).toBe(62);
  });

  it('agree with proj4 over a field, to a tenth of a millimeter', async () => {
    const definition = '+proj=utm +zone=15 +datum=WGS84 +units=m';
    const records = Array.from({ length: 60 }, (_, i) => [
      rectangle(450000 + i * 37.31, 4649000 + i * 41.77, 450005 + i * 37.31, 4649003 + i * 41.77),
    ]);
    const set = await readShapefile(makeShapefile({ records, prj: utmPrj(15, 'N') }));
    records.forEach(([ring], i) => {
      const want = ring.slice(0, 4).map(([x, y]) => proj4(definition, 'WGS84', [x, y]));
      for (const got of degrees(set, i)[0]) expect(Math.min(...want.map((w) => meters(w, got)))).toBeLessThan(1e-4);
    });
    expect(noteCodes(set)).toEqual([]);
  });
});

describe('a crs member', () => {
  it.each([
    'urn:ogc:def:crs:OGC:1.3:CRS84',
    'EPSG:4326',
    'urn:ogc:def:crs:EPSG::4326',
    'urn:ogc:def:crs:OGC::CRS84',
    'EPSG:4269',
    'http://www.opengis.net/def/crs/OGC/1.3/CRS84',
  ])('of degrees changes nothing: %s', async (name) => {
    const features = [feature([square(-93.6, 42)])];
    const wgs84 = await readJson(collection(features));
    // Other degrees are read alike and kept by name.
    const plain = { ...wgs84, system: /4269$/.test(name) ? expect.objectContaining({ code: 4269 }) : null };
    expect(await readJson(collection(features, { crs: { type: 'name', properties: { name } } }))).toEqual(plain);
    // After the features it counts as well.
    expect(
      await readJson({ type: 'FeatureCollection', features, crs: { type: 'name', properties: { name } } }),
    ).toEqual(plain);
  });

  it('of web Mercator', async () => {
    // Spherical formula (IOGP Guidance Note 7-2, method 1024): x = a * lon, y = a * ln tan(45 + lat / 2).
    const a = 6378137;
    const x = (a * -93.6 * Math.PI) / 180;
    const y = a * Math.log(Math.tan(Math.PI / 4 + (42 * Math.PI) / 360));
    const set = await readJson(
      collection([feature([square(x, y, 10)])], {
        crs: { type: 'name', properties: { name: 'urn:ogc:def:crs:EPSG::3857' } },
      }),
    );
    expect(meters(degrees(set, 0)[0][0], [-93.6, 42])).toBeLessThan(1e-4);
  });
});

describe('datums', () => {
  const geographic = (name: string, datum: string, spheroid: string): string =>
    WGS84_PRJ.replace('GCS_WGS_1984', name)
      .replace('D_WGS_1984', datum)
      .replace('"WGS_1984",6378137.0,298.257223563', spheroid);
  const notes = async (prj: string, ring = rectangle(-93.6, 42, -93.5999, 42.0001)): Promise<string[]> =>
    noteCodes(await readShapefile(makeShapefile({ records: [[ring]], prj })));

  it('whose shift is not known are named', async () => {
    expect(
      await notes(
        geographic('GCS_North_American_1927', 'D_North_American_1927', '"Clarke_1866",6378206.4,294.9786982'),
      ),
    ).toEqual(['datum-shift']);
    const gk = utmPrj(33, 'N').replace(
      WGS84_PRJ,
      geographic(
        'GCS_Deutsches_Hauptdreiecksnetz',
        'D_Deutsches_Hauptdreiecksnetz',
        '"Bessel_1841",6377397.155,299.1528128',
      ),
    );
    expect(await notes(gk, rectangle(450309, 5649950, 450319, 5649960))).toEqual(['datum-shift']);
    const rd = utmPrj(31, 'N').replace(
      WGS84_PRJ,
      geographic('GCS_Amersfoort', 'D_Amersfoort', '"Bessel_1841",6377397.155,299.1528128'),
    );
    expect(await notes(rd, rectangle(450309, 5749950, 450319, 5749960))).toEqual(['datum-shift']);
    const pulkovo = utmPrj(37, 'N').replace(
      WGS84_PRJ,
      geographic('GCS_Pulkovo_1942', 'D_Pulkovo_1942', '"Krasovsky_1940",6378245.0,298.3'),
    );
    expect(await notes(pulkovo, rectangle(450309, 5749950, 450319, 5749960))).toEqual(['datum-shift']);
  });

  it('that match WGS84 on a field, or bring their shift, are not', async () => {
    expect(
      await notes(geographic('GCS_North_American_1983', 'D_North_American_1983', '"GRS_1980",6378137.0,298.257222101')),
    ).toEqual([]);
    expect(await notes(geographic('GCS_ETRS_1989', 'D_ETRS_1989', '"GRS_1980",6378137.0,298.257222101'))).toEqual([]);
    const withShift = geographic(
      'DHDN',
      'Deutsches_Hauptdreiecksnetz',
      '"Bessel_1841",6377397.155,299.1528128',
    ).replace('299.1528128]', '299.1528128],TOWGS84[598.1,73.7,418.2,0.202,0.045,-2.455,6.7]');
    expect(await notes(withShift, rectangle(10, 51, 10.0001, 51.0001))).toEqual([]);
  });

  it('another prime meridian moves the map', async () => {
    // Paris lies 2.5969213 grad, 2.33722917 degrees, east of Greenwich (EPSG prime meridian 8903).
    const paris = WGS84_PRJ.replace('"Greenwich",0.0', '"Paris",2.33722917');
    const set = await readShapefile(makeShapefile({ records: [[rectangle(1, 48, 1.0001, 48.0001)]], prj: paris }));
    const nearest = Math.min(...degrees(set, 0)[0].map((p) => meters(p, [3.33722917, 48])));
    expect(nearest).toBeLessThan(0.001);
  });

  it('compound systems, byte order marks and line breaks do not matter', async () => {
    const compound = `COMPD_CS["both",${utmPrj(15, 'N')},VERT_CS["up",VERT_DATUM["d",2005],UNIT["m",1.0]]]`;
    for (const prj of [compound, `\ufeff${utmPrj(15, 'N')}`, utmPrj(15, 'N').replaceAll(',', ',\r\n  ')]) {
      expect(meters(await corner(450309.3304, 4649950.3224, prj), [-93.6, 42])).toBeLessThan(0.001);
    }
  });
});
