import { type Layer, ringsOf } from './layer.ts';

/** Well-known binary, little-endian (OGC 06-103r4, section 8.2): 3 is a Polygon, 6 a MultiPolygon. */
export function toWkb(layer: Layer, r: number): Uint8Array {
  const polygons = ringsOf(layer, r);
  const many = polygons.length !== 1;
  let size = many ? 9 : 0;
  for (const rings of polygons) size += 9 + rings.reduce((s, ring) => s + 4 + 16 * ring.length, 0);
  const view = new DataView(new ArrayBuffer(size));
  let at = 0;
  const head = (type: number, count: number): void => {
    view.setUint8(at, 1);
    view.setUint32(at + 1, type, true);
    view.setUint32(at + 5, count, true);
    at += 9;
  };
  if (many) head(6, polygons.length);
  for (const rings of polygons) {
    head(3, rings.length);
    for (const ring of rings) {
      view.setUint32(at, ring.length, true);
      at += 4;
      for (const [x, y] of ring) {
        view.setFloat64(at, x, true);
        view.setFloat64(at + 8, y, true);
        at += 16;
      }
    }
  }
  return new Uint8Array(view.buffer);
}
