export type Position = [number, number];
export type Geometry =
  | { type: 'Polygon'; coordinates: Position[][] }
  | { type: 'MultiPolygon'; coordinates: Position[][][] }
  | { type: 'LineString'; coordinates: Position[] }
  | { type: 'MultiLineString'; coordinates: Position[][] };

/**
 * The same geometry with longitudes from -180 to 180. Input longitudes may run past 180 in either direction, up to
 * one turn; output that lies on both sides of the antimeridian is two parts that meet there (RFC 7946, section 3.1.9).
 *
 * Known limits: where a concave polygon crosses more than once, parts on one side stay joined along the antimeridian itself, and
 * a hole that crosses shares that edge with its outer ring.
 */
export function cutAtAntimeridian(g: Geometry): Geometry {
  const [least, most] = reach(g);
  if (least >= -180 && most <= 180) return g;
  if (least < -180) return cutAtAntimeridian(moved(g, 360));
  if (least >= 180) return moved(g, -360);
  if (g.type === 'LineString' || g.type === 'MultiLineString') {
    const lines = (g.type === 'LineString' ? [g.coordinates] : g.coordinates).flatMap(cutLine);
    return lines.length === 1
      ? { type: 'LineString', coordinates: lines[0] }
      : { type: 'MultiLineString', coordinates: lines };
  }
  const polygons = g.type === 'Polygon' ? [g.coordinates] : g.coordinates;
  const parts = polygons.flatMap((rings) => [
    rings.map((r) => halfRing(r, 1)).filter((r) => r.length >= 4),
    rings
      .map((r) => halfRing(r, -1))
      .filter((r) => r.length >= 4)
      .map((r) => shift(r, -360)),
  ]);
  const whole = parts.filter((rings) => rings.length > 0);
  return whole.length === 1 ? { type: 'Polygon', coordinates: whole[0] } : { type: 'MultiPolygon', coordinates: whole };
}

function reach(g: Geometry): [number, number] {
  let least = Number.POSITIVE_INFINITY;
  let most = Number.NEGATIVE_INFINITY;
  for (const [x] of positions(g)) {
    if (x < least) least = x;
    if (x > most) most = x;
  }
  return [least, most];
}

function positions(g: Geometry): Position[] {
  if (g.type === 'LineString') return g.coordinates;
  if (g.type === 'MultiPolygon') return g.coordinates.flat(2) as Position[];
  return g.coordinates.flat() as Position[];
}

function moved(g: Geometry, by: number): Geometry {
  switch (g.type) {
    case 'LineString':
      return { type: g.type, coordinates: shift(g.coordinates, by) };
    case 'MultiPolygon':
      return { type: g.type, coordinates: g.coordinates.map((p) => p.map((r) => shift(r, by))) };
    default:
      return { type: g.type, coordinates: g.coordinates.map((r) => shift(r, by)) };
  }
}

function shift(line: readonly Position[], by: number): Position[] {
  return line.map(([x, y]) => [tidy(x + by), y]);
}

/** The part of a closed ring west (side 1) or east (side -1) of 180, closed again: clipped at one line (Sutherland and Hodgman). */
function halfRing(ring: readonly Position[], side: 1 | -1): Position[] {
  const inside = (p: Position): boolean => side * (180 - p[0]) >= 0;
  const out: Position[] = [];
  for (let i = 0; i + 1 < ring.length; i++) {
    const [a, b] = [ring[i], ring[i + 1]];
    if (inside(a)) out.push(a);
    if (inside(a) !== inside(b) && a[0] !== 180 && b[0] !== 180) out.push(crossing(a, b));
  }
  if (out.length > 0) out.push(out[0]);
  return out.every(([x]) => x === 180) ? [] : out;
}

function cutLine(line: readonly Position[]): Position[][] {
  const out: { east: boolean; points: Position[] }[] = [];
  const isEast = (p: Position): boolean => p[0] > 180;
  line.forEach((p, i) => {
    const last = out[out.length - 1];
    if (last && last.east === isEast(p)) {
      last.points.push(p);
      return;
    }
    const at = i > 0 ? crossing(line[i - 1], p) : null;
    if (last && at) last.points.push(at);
    out.push({ east: isEast(p), points: at ? [at, p] : [p] });
  });
  return out.filter((l) => l.points.length > 1).map((l) => (l.east ? shift(l.points, -360) : l.points));
}

function crossing(a: Position, b: Position): Position {
  return [180, tidy(a[1] + ((180 - a[0]) / (b[0] - a[0])) * (b[1] - a[1]))];
}

/** At most 12 decimals, 0.1 µm: drops rounding errors of the arithmetic. */
export function tidy(d: number): number {
  return Number(d.toFixed(12));
}
