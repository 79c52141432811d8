import { crsOf, type System } from '../intake/index.ts';
import type { Layer, LayerFormat } from './layer.ts';

/**
 * Whether a format can name `system`: a shapefile and a GeoPackage hold WKT, FlatGeobuf (as it is written here) an EPSG code, GeoParquet PROJJSON.
 * GeoJSON is WGS84 by its standard (RFC 7946, section 4); `legacy` says that the older member `crs` is wanted.
 */
export function canBear(format: LayerFormat, system: System, legacy: boolean): boolean {
  switch (format) {
    case '.zip':
      return wktOf(system) !== null;
    case '.gpkg':
      return system.code !== null || wktOf(system) !== null;
    case '.fgb':
      return system.code !== null;
    case '.parquet':
      return system.json !== null;
    case '.geojson':
      return legacy && system.code !== null;
  }
}

/** A file's coordinates are read to a hundredth of a millimeter: within twice that of a tenth of a millimeter they were written as such. Meters or feet. */
const WRITTEN = 1e-4;
const READ = 2e-5;
const DIGITS = 1e6;

function tidy(v: number): number {
  const near = Math.round(v / WRITTEN) / (1 / WRITTEN);
  return Math.abs(v - near) < READ ? near : Math.round(v * DIGITS) / DIGITS;
}

/** The layer in another system; its `lonLat` are x and y of that system then. Polygons read with four decimals or fewer keep their digits. */
export function inSystem(layer: Layer, system: System | null): Layer {
  if (system === null) return layer;
  const lonLat = layer.lonLat.slice();
  if (!system.plain) {
    const crs = crsOf(system);
    const xy: [number, number] = [0, 0];
    for (let i = 0; i < lonLat.length; i += 2) {
      xy[0] = lonLat[i];
      xy[1] = lonLat[i + 1];
      const [x, y] = crs.fromDegrees(xy);
      lonLat[i] = system.projected ? tidy(x) : x;
      lonLat[i + 1] = system.projected ? tidy(y) : y;
    }
  }
  return { ...layer, lonLat, system };
}

/** Name and datum of the degrees under the codes that are known here, by their first and last code; NAD83 for those of no entry. */
const DATUMS = [
  [32601, 32760, 'WGS 84', 'WGS_1984'],
  [25828, 25838, 'ETRS89', 'European_Terrestrial_Reference_System_1989'],
  [28348, 28358, 'GDA94', 'Geocentric_Datum_of_Australia_1994'],
  [7846, 7859, 'GDA2020', 'Geocentric_Datum_of_Australia_2020'],
  [31978, 31985, 'SIRGAS 2000', 'Sistema_de_Referencia_Geocentrico_para_las_AmericaS_2000'],
  [2154, 2154, 'RGF93', 'Reseau_Geodesique_Francais_1993'],
  [2193, 2193, 'NZGD2000', 'New_Zealand_Geodetic_Datum_2000'],
] as const;

function geographicOf(code: number | null): string {
  const found = DATUMS.find(([from, to]) => code !== null && code >= from && code <= to);
  const [name, datum] = found ? [found[2], found[3]] : ['NAD83', 'North_American_Datum_1983'];
  const spheroid = name === 'WGS 84' ? '"WGS 84",6378137,298.257223563' : '"GRS 1980",6378137,298.257222101';
  return `GEOGCS["${name}",DATUM["${datum}",SPHEROID[${spheroid}]],PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433]]`;
}

const LINEAR: Readonly<Record<string, string>> = {
  m: 'UNIT["metre",1]',
  'us-ft': 'UNIT["US survey foot",0.304800609601219]',
  ft: 'UNIT["foot",0.3048]',
};
const METERS: Readonly<Record<string, number>> = { m: 1, 'us-ft': 1200 / 3937, ft: 0.3048 };

/** The system as WKT 1 (OGC 01-009): as its file had it, else made from its definition where that is UTM, transverse Mercator or Lambert; null for others. */
export function wktOf({ wkt, definition, code, name, plain }: System): string | null {
  if (wkt !== null) return wkt;
  if (plain || typeof definition !== 'string' || !definition.startsWith('+')) return null;
  const p = new Map([...definition.matchAll(/\+(\w+)(?:=(\S+))?/g)].map((m) => [m[1], m[2] ?? '']));
  const unit = p.get('units') ?? 'm';
  const shape = projectionOf(p, METERS[unit]);
  if (shape === null) return null;
  const authority = code === null ? '' : `,AUTHORITY["EPSG","${code}"]`;
  return `PROJCS["${name}",${geographicOf(code)},${shape},${LINEAR[unit]}${authority}]`;
}

function projectionOf(p: ReadonlyMap<string, string>, unitM: number): string | null {
  const parameter = (name: string, value: number | string): string => `PARAMETER["${name}",${value}]`;
  const east = (x: string | undefined): number => Number((Number(x ?? 0) / unitM).toFixed(6));
  const all = (...parts: string[]): string => parts.join(',');
  const origin = all(
    parameter('latitude_of_origin', p.get('lat_0') ?? 0),
    parameter('central_meridian', p.get('lon_0') ?? 0),
  );
  const falsely = all(parameter('false_easting', east(p.get('x_0'))), parameter('false_northing', east(p.get('y_0'))));
  switch (p.get('proj')) {
    case 'utm':
      return all(
        'PROJECTION["Transverse_Mercator"]',
        parameter('latitude_of_origin', 0),
        parameter('central_meridian', 6 * Number(p.get('zone')) - 183),
        parameter('scale_factor', 0.9996),
        parameter('false_easting', 500_000),
        parameter('false_northing', p.has('south') ? 10_000_000 : 0),
      );
    case 'tmerc':
      return all('PROJECTION["Transverse_Mercator"]', origin, parameter('scale_factor', p.get('k') ?? 1), falsely);
    case 'lcc':
      return all(
        'PROJECTION["Lambert_Conformal_Conic_2SP"]',
        origin,
        parameter('standard_parallel_1', p.get('lat_1') ?? 0),
        parameter('standard_parallel_2', p.get('lat_2') ?? 0),
        falsely,
      );
    default:
      return null;
  }
}
