import init, { type Database, type SqlValue } from 'sql.js/dist/sql-wasm-inline.js';
import type { System } from '../intake/index.ts';
import { cellOf, type Layer, typeOf } from './layer.ts';
import { wktOf } from './system.ts';
import { toWkb } from './wkb.ts';

const TYPES: Readonly<Record<ReturnType<typeof typeOf>, string>> = {
  integer: 'INTEGER',
  real: 'DOUBLE',
  boolean: 'BOOLEAN',
  date: 'DATE',
  datetime: 'DATETIME',
  text: 'TEXT',
};
const WGS84 =
  'GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563,AUTHORITY["EPSG","7030"]],AUTHORITY["EPSG","6326"]],PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433],AUTHORITY["EPSG","4326"]]';

/** Tables that every GeoPackage has (OGC 12-128r19, annex C, tables 21 to 23), and the systems that it must name. */
const FRAME = `
PRAGMA application_id = 1196444487;
PRAGMA user_version = 10300;
CREATE TABLE gpkg_spatial_ref_sys (srs_name TEXT NOT NULL, srs_id INTEGER PRIMARY KEY, organization TEXT NOT NULL,
  organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL, description TEXT);
CREATE TABLE gpkg_contents (table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL, identifier TEXT UNIQUE, description TEXT DEFAULT '',
  last_change DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')), min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE,
  srs_id INTEGER, CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id));
CREATE TABLE gpkg_geometry_columns (table_name TEXT NOT NULL, column_name TEXT NOT NULL, geometry_type_name TEXT NOT NULL, srs_id INTEGER NOT NULL,
  z TINYINT NOT NULL, m TINYINT NOT NULL, CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name), CONSTRAINT uk_gc_table_name UNIQUE (table_name),
  CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name),
  CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id));
INSERT INTO gpkg_spatial_ref_sys VALUES ('Undefined Cartesian SRS', -1, 'NONE', -1, 'undefined', NULL),
  ('Undefined geographic SRS', 0, 'NONE', 0, 'undefined', NULL), ('WGS 84', 4326, 'EPSG', 4326, '${WGS84}', NULL);
`;

/**
 * A GeoPackage, version 1.3 (OGC 12-128r17), of one layer without a spatial index. Dated 1980, so that the same map gives the same bytes. SQLite is
 * loaded when it is called.
 */
export async function geoPackage(layer: Layer): Promise<Uint8Array> {
  const { Database: Open } = await init();
  const db = new Open();
  try {
    db.run(FRAME);
    fill(db, layer);
    return db.export();
  } finally {
    db.close();
  }
}

function fill(db: Database, layer: Layer): void {
  const { name, columns, recordStart, lonLat } = layer;
  const n = recordStart.length - 1;
  const taken = new Set(['fid', 'geom']);
  const names = columns.map((c) => {
    let own = c.name;
    for (let k = 2; taken.has(own.toLowerCase()); k++) own = `${c.name}_${k}`;
    taken.add(own.toLowerCase());
    return own;
  });
  const table = quoted(name);
  const srs = nameSystem(db, layer.system);
  const fields = columns.map((c, i) => `, ${quoted(names[i])} ${TYPES[typeOf(c)]}`).join('');
  db.run(`CREATE TABLE ${table} (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, geom GEOMETRY${fields})`);
  const box: (number | null)[] = n === 0 ? [null, null, null, null] : boxOf(lonLat, 0, lonLat.length);
  run(db, "INSERT INTO gpkg_contents VALUES (?, 'features', ?, '', '1980-01-01T00:00:00.000Z', ?, ?, ?, ?, ?)", [
    name,
    name,
    ...box,
    srs,
  ]);
  run(db, "INSERT INTO gpkg_geometry_columns VALUES (?, 'geom', 'GEOMETRY', ?, 0, 0)", [name, srs]);
  db.run('BEGIN');
  const insert = db.prepare(`INSERT INTO ${table} VALUES (?, ?${', ?'.repeat(columns.length)})`);
  for (let r = 0; r < n; r++) {
    const cells = columns.map((c): SqlValue => {
      const v = cellOf(c, r);
      return typeof v === 'boolean' ? Number(v) : v;
    });
    insert.run([r + 1, blob(layer, r, srs), ...cells]);
  }
  insert.free();
  db.run('COMMIT');
}

/** A system without a registry gets its own number. */
const OWN_SYSTEM = 100_000;

/** The number of the layer's system in the table of systems; it is added there unless it is one of the standard ones. */
function nameSystem(db: Database, system: System | undefined): number {
  if (system === undefined) return 4326;
  const id = system.code ?? OWN_SYSTEM;
  run(db, 'INSERT INTO gpkg_spatial_ref_sys VALUES (?, ?, ?, ?, ?, NULL)', [
    system.name,
    id,
    system.code === null ? 'NONE' : 'EPSG',
    id,
    wktOf(system) ?? 'undefined',
  ]);
  return id;
}

function run(db: Database, sql: string, values: readonly SqlValue[]): void {
  const s = db.prepare(sql);
  s.run(values);
  s.free();
}

const quoted = (name: string): string => `"${name.replaceAll('"', '""')}"`;

/** "GP", version 0, flags (little-endian, envelope of x and y), the system, the envelope, then WKB (section 2.1.3). */
function blob(layer: Layer, r: number, srs: number): Uint8Array {
  const { polygonStart, recordStart, ringStart, lonLat } = layer;
  const from = ringStart[polygonStart[recordStart[r]]];
  const to = ringStart[polygonStart[recordStart[r + 1]]];
  const wkb = toWkb(layer, r);
  const out = new Uint8Array(40 + wkb.length);
  out.set([0x47, 0x50, 0, 0b11]);
  const view = new DataView(out.buffer);
  view.setInt32(4, srs, true);
  const [minX, minY, maxX, maxY] = boxOf(lonLat, 2 * from, 2 * to);
  [minX, maxX, minY, maxY].forEach((v, k) => {
    view.setFloat64(8 + 8 * k, v, true);
  });
  out.set(wkb, 40);
  return out;
}

function boxOf(lonLat: Float64Array, from: number, to: number): [number, number, number, number] {
  const box: [number, number, number, number] = [Infinity, Infinity, -Infinity, -Infinity];
  for (let i = from; i < to; i += 2) {
    box[0] = Math.min(box[0], lonLat[i]);
    box[1] = Math.min(box[1], lonLat[i + 1]);
    box[2] = Math.max(box[2], lonLat[i]);
    box[3] = Math.max(box[3], lonLat[i + 1]);
  }
  return box;
}
