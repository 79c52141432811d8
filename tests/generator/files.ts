import { zipSync } from 'fflate';
import type { Feature, MultiPolygon, Polygon } from 'geojson';
import proj4 from 'proj4';
import type { DrawnField } from './spec.ts';

/** The map as GeoJSON, one feature a line. */
export function toGeoJson(drawn: DrawnField): Uint8Array {
  const lines = drawn.features.features.map((f) => JSON.stringify(f));
  return new TextEncoder().encode(`{"type":"FeatureCollection","features":[\n${lines.join(',\n')}\n]}\n`);
}

/**
 * The map as one zipped shapefile called `name`. `epsg` is 4326 or a WGS84 UTM zone (32601-32660, 32701-32760).
 * Layout after the shapefile white paper of July 1998: outer rings clockwise, lengths in 16-bit words, big-endian in the headers.
 */
export function toShapefileZip(drawn: DrawnField, epsg: number, name = 'field'): Uint8Array {
  const parts = shapefileParts(drawn, epsg);
  // DOS times in an archive are local: made from local parts, they are the same bytes in every time zone.
  const mtime = new Date(2026, 3, 20, 20, 0, 0);
  const entries = Object.entries(parts).map(
    ([ending, bytes]) => [`${name}.${ending}`, [bytes, { mtime, level: 6 as const }]] as const,
  );
  return zipSync(Object.fromEntries(entries.map(([n, [b, o]]) => [n, [b, o]])));
}

export interface ShapefileParts {
  shp: Uint8Array;
  shx: Uint8Array;
  dbf: Uint8Array;
  prj: Uint8Array;
  cpg: Uint8Array;
}

export function shapefileParts(drawn: DrawnField, epsg: number): ShapefileParts {
  const { features } = drawn.features;
  const { project, wkt } = projection(epsg);
  const text = new TextEncoder();
  return { ...shapes(features, project), dbf: table(features), prj: text.encode(wkt), cpg: text.encode('UTF-8') };
}

type AnyFeature = Feature<Polygon | MultiPolygon>;

function projection(epsg: number): { project: (p: number[]) => number[]; wkt: string } {
  const geographic =
    'GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137.0,298.257223563]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]';
  if (epsg === 4326) return { project: (p) => p, wkt: geographic };
  const south = epsg >= 32701 && epsg <= 32760;
  const zone = epsg - (south ? 32700 : 32600);
  if (!Number.isInteger(zone) || zone < 1 || zone > 60) throw new Error(`EPSG:${epsg} is not a WGS84 UTM zone`);
  const to = proj4('WGS84', `+proj=utm +zone=${zone}${south ? ' +south' : ''} +datum=WGS84 +units=m +no_defs`);
  const params: [string, number][] = [
    ['False_Easting', 500000],
    ['False_Northing', south ? 10000000 : 0],
    ['Central_Meridian', 6 * zone - 183],
    ['Scale_Factor', 0.9996],
    ['Latitude_Of_Origin', 0],
  ];
  const list = params.map(([n, v]) => `PARAMETER["${n}",${Number.isInteger(v) ? v.toFixed(1) : v}]`).join(',');
  return {
    project: (p) => to.forward([p[0], p[1]]),
    wkt: `PROJCS["WGS_1984_UTM_Zone_${zone}${south ? 'S' : 'N'}",${geographic},PROJECTION["Transverse_Mercator"],${list},UNIT["Meter",1.0]]`,
  };
}

function shapes(features: AnyFeature[], project: (p: number[]) => number[]): { shp: Uint8Array; shx: Uint8Array } {
  const records = features.map((f) => {
    const polygons = f.geometry.type === 'Polygon' ? [f.geometry.coordinates] : f.geometry.coordinates;
    return polygons.flatMap((rings) => rings.map((ring, i) => wound(ring.map(project), i === 0)));
  });
  const sizes = records.map((rings) => 44 + 4 * rings.length + 16 * rings.reduce((n, r) => n + r.length, 0));
  const shp = new DataView(new ArrayBuffer(100 + sizes.reduce((n, s) => n + 8 + s, 0)));
  const shx = new DataView(new ArrayBuffer(100 + 8 * records.length));
  const all = [Infinity, Infinity, -Infinity, -Infinity];
  let at = 100;
  records.forEach((rings, i) => {
    shx.setInt32(100 + 8 * i, at / 2);
    shx.setInt32(104 + 8 * i, sizes[i] / 2);
    shp.setInt32(at, i + 1);
    shp.setInt32(at + 4, sizes[i] / 2);
    shp.setInt32(at + 8, 5, true);
    const box = [Infinity, Infinity, -Infinity, -Infinity];
    shp.setInt32(at + 44, rings.length, true);
    let points = 0;
    let put = at + 52 + 4 * rings.length;
    rings.forEach((ring, k) => {
      shp.setInt32(at + 52 + 4 * k, points, true);
      points += ring.length;
      for (const [x, y] of ring) {
        shp.setFloat64(put, x, true);
        shp.setFloat64(put + 8, y, true);
        put += 16;
        box[0] = Math.min(box[0], x);
        box[1] = Math.min(box[1], y);
        box[2] = Math.max(box[2], x);
        box[3] = Math.max(box[3], y);
      }
    });
    shp.setInt32(at + 48, points, true);
    box.forEach((v, k) => {
      shp.setFloat64(at + 12 + 8 * k, v, true);
      all[k] = k < 2 ? Math.min(all[k], v) : Math.max(all[k], v);
    });
    at += 8 + sizes[i];
  });
  for (const view of [shp, shx]) {
    view.setInt32(0, 9994);
    view.setInt32(24, view.byteLength / 2);
    view.setInt32(28, 1000, true);
    view.setInt32(32, 5, true);
    all.forEach((v, k) => {
      view.setFloat64(36 + 8 * k, v, true);
    });
  }
  return { shp: new Uint8Array(shp.buffer), shx: new Uint8Array(shx.buffer) };
}

/** The ring clockwise (outer) or counter-clockwise (hole). */
function wound(ring: number[][], outer: boolean): number[][] {
  const [x0, y0] = ring[0];
  let twice = 0;
  for (let i = 0; i + 1 < ring.length; i++)
    twice += (ring[i][0] - x0) * (ring[i + 1][1] - y0) - (ring[i + 1][0] - x0) * (ring[i][1] - y0);
  return twice < 0 === outer ? ring : [...ring].reverse();
}

function table(features: AnyFeature[]): Uint8Array {
  const names = Object.keys(features[0]?.properties ?? {});
  const columns = (names.length > 0 ? names : ['id']).map((name) => {
    if (name.length > 10) throw new Error(`"${name}" is too long for a shapefile: 10 characters at most`);
    const values = features.map((f, i) => (names.length > 0 ? f.properties?.[name] : i + 1) as string | number);
    const numeric = values.every((v) => typeof v === 'number');
    const digits = numeric ? Math.max(0, ...values.map((v) => (String(v).split('.')[1] ?? '').length)) : 0;
    const cells = values.map((v) => (numeric ? (v as number).toFixed(digits) : String(v)));
    const width = Math.max(1, ...cells.map((c) => c.length));
    return { name, numeric, digits, width, cells };
  });
  const recordLength = 1 + columns.reduce((n, c) => n + c.width, 0);
  const headerLength = 33 + 32 * columns.length;
  const bytes = new Uint8Array(headerLength + recordLength * features.length + 1).fill(0x20, headerLength);
  const view = new DataView(bytes.buffer);
  bytes.set([3, 126, 4, 20]);
  view.setUint32(4, features.length, true);
  view.setUint16(8, headerLength, true);
  view.setUint16(10, recordLength, true);
  const put = (text: string, at: number): void => {
    for (let i = 0; i < text.length; i++) bytes[at + i] = text.charCodeAt(i);
  };
  columns.forEach((c, i) => {
    put(c.name, 32 + 32 * i);
    put(c.numeric ? 'N' : 'C', 43 + 32 * i);
    bytes[48 + 32 * i] = c.width;
    bytes[49 + 32 * i] = c.digits;
  });
  bytes[headerLength - 1] = 0x0d;
  features.forEach((_, row) => {
    let at = headerLength + row * recordLength + 1;
    for (const c of columns) {
      put(c.numeric ? c.cells[row].padStart(c.width) : c.cells[row], at);
      at += c.width;
    }
  });
  bytes[bytes.length - 1] = 0x1a;
  return bytes;
}
