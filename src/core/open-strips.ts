import type { Polygons } from './coverage/index.ts';
import type { Shapes } from './geometry/shapes.ts';

/**
 * `holes`, and the bridges over seam strips that are open at their ends and so lie in no hole. A bridge reaches a few centimetres into
 * the records on both sides: areas are never taken from these polygons.
 */
export function withOpenStrips(holes: Polygons, bridges: Shapes): Polygons {
  const n = bridges.shapeStart.length - 1;
  const boxes: { minX: number; maxX: number; minY: number; maxY: number; from: number; to: number }[] = [];
  for (let p = 0; p + 1 < holes.polygonStart.length; p++) {
    const from = holes.ringStart[holes.polygonStart[p]];
    const to = holes.ringStart[holes.polygonStart[p] + 1];
    const b = { minX: Infinity, maxX: -Infinity, minY: Infinity, maxY: -Infinity, from, to };
    for (let i = from; i < to; i++) {
      b.minX = Math.min(b.minX, holes.xy[2 * i]);
      b.maxX = Math.max(b.maxX, holes.xy[2 * i]);
      b.minY = Math.min(b.minY, holes.xy[2 * i + 1]);
      b.maxY = Math.max(b.maxY, holes.xy[2 * i + 1]);
    }
    boxes.push(b);
  }
  const inHole = (x: number, y: number): boolean =>
    boxes.some((b) => {
      if (x < b.minX || x > b.maxX || y < b.minY || y > b.maxY) return false;
      let inside = false;
      for (let i = b.from, j = b.to - 1; i < b.to; j = i++) {
        const yi = holes.xy[2 * i + 1];
        const yj = holes.xy[2 * j + 1];
        if (yi > y !== yj > y && x < ((holes.xy[2 * j] - holes.xy[2 * i]) * (y - yi)) / (yj - yi) + holes.xy[2 * i])
          inside = !inside;
      }
      return inside;
    });
  const open: number[] = [];
  for (let s = 0; s < n; s++) {
    let x = 0;
    let y = 0;
    for (let i = 4 * s; i < 4 * s + 4; i++) {
      x += bridges.xy[2 * i] / 4;
      y += bridges.xy[2 * i + 1] / 4;
    }
    if (!inHole(x, y)) open.push(s);
  }
  const points = holes.xy.length / 2;
  const rings = holes.ringStart.length - 1;
  const polygons = holes.polygonStart.length - 1;
  const xy = new Float64Array(holes.xy.length + 8 * open.length);
  const ringStart = new Uint32Array(rings + 1 + open.length);
  const polygonStart = new Uint32Array(polygons + 1 + open.length);
  xy.set(holes.xy);
  ringStart.set(holes.ringStart);
  polygonStart.set(holes.polygonStart);
  open.forEach((s, k) => {
    xy.set(bridges.xy.subarray(8 * s, 8 * s + 8), holes.xy.length + 8 * k);
    ringStart[rings + 1 + k] = points + 4 * (k + 1);
    polygonStart[polygons + 1 + k] = rings + k + 1;
  });
  return { xy, ringStart, polygonStart };
}
