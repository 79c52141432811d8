import { POINT } from './geojson-geometry.ts';
import { HOLE, OUTER, type Staging } from './staging.ts';

/**
 * Stages one record from well-known text (OGC 06-103r4, section 7): POINT, POLYGON or MULTIPOLYGON, with or without Z and M, after an SRID as some
 * databases write it. Anything else is skipped with its reason.
 */
export function stageWkt(text: string, staging: Staging): void {
  const m = /^\s*(?:SRID=\d+;)?\s*([A-Z]+)\s*(?:Z|M|ZM)?\s*(\(.*\)|EMPTY)\s*$/is.exec(text);
  if (m === null) {
    staging.record(text.trim() === '' ? 'no geometry' : 'a geometry that is not WKT');
    return;
  }
  const type = m[1].toUpperCase();
  const body = m[2];
  if (type === 'POINT') {
    const numbers = body.replace(/[()]/g, '').trim().split(/\s+/).map(Number);
    if (numbers.length < 2 || numbers.some(Number.isNaN)) staging.record('a point that is not WKT');
    else staging.pointRecord(numbers[0], numbers[1], POINT);
    return;
  }
  if (type !== 'POLYGON' && type !== 'MULTIPOLYGON') {
    staging.record(`${type} geometry`);
    return;
  }
  const polygons =
    type === 'POLYGON'
      ? [body]
      : body
          .slice(1, -1)
          .split(/\)\s*\)\s*,/)
          .map((p) => `${p}))`);
  for (const polygon of polygons) {
    let role = OUTER;
    for (const [, ring] of polygon.matchAll(/\(([^()]*)\)/g)) {
      for (const position of ring.split(',')) {
        const [x, y] = position.trim().split(/\s+/).map(Number);
        if (!Number.isFinite(x) || !Number.isFinite(y)) {
          staging.record('a polygon that is not WKT');
          return;
        }
        staging.point(x, y);
      }
      staging.ring(role);
      role = HOLE;
    }
  }
  staging.record(staging.rings > staging.recordStart[staging.records] ? '' : 'empty polygon');
}
