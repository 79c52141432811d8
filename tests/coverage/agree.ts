import { areaOf, cover, enclosed, measure, openGround, outline, type Polygons } from '../../src/core/coverage/index.ts';
import type { Tangled } from '../../src/core/geometry/shapes.ts';
import { multipolygon, valid } from './jts.ts';
import { truth } from './oracle.ts';
import { inside, type Rings, toShapes } from './tools.ts';

/** An uneven ground density in whole numbers, so that the oracle stays exact. */
export const DENSITY = [3, 1, 2, 1] as const;

/** Everything in which the engine and the exact oracle, or JSTS, disagree about some shapes near the origin. Empty when all is well. */
export function disagreements(list: readonly Rings[], tangled?: Tangled): string[] {
  const out: string[] = [];
  const shapes = tangled ? { ...toShapes(list), tangled } : toShapes(list);
  const t = truth(shapes, DENSITY);
  const m = measure(shapes, DENSITY);
  const o = outline(shapes, DENSITY);
  const same = (what: string, got: number, want: number): void => {
    if (!(Math.abs(got - want) <= 1e-9 * Math.max(1, Math.abs(want)))) out.push(`${what}: ${got}, not ${want}`);
  };
  same(
    'sum',
    m.sumM2,
    t.areas.reduce((a, b) => a + b, 0),
  );
  for (let k = 0; k < Math.max(t.depthAreas.length, m.areaAtDepthM2.length); k++) {
    same(`area at depth ${k + 1}`, m.areaAtDepthM2[k] ?? 0, t.depthAreas[k] ?? 0);
  }
  t.already.forEach((a, i) => {
    same(`already covered of ${i}`, m.alreadyCoveredM2[i], a);
  });
  same('rings of covered', o.coveredM2, t.depthAreas[0] ?? 0);
  same('rings of overlap', o.overlapM2, t.depthAreas[1] ?? 0);
  same(
    'areaOf covered',
    areaOf(o.covered, DENSITY).reduce((a, b) => a + b, 0),
    t.depthAreas[0] ?? 0,
  );
  same('residual', m.residual, 0);
  const wrong = t.probes.find(
    (p) => inside(o.covered, p.x, p.y) !== p.depth >= 1 || inside(o.overlap, p.x, p.y) !== p.depth >= 2,
  );
  if (wrong) out.push(`depth ${wrong.depth} at (${wrong.x}, ${wrong.y}) is drawn otherwise`);
  same('covered polygons', o.covered.polygonStart.length - 1, t.pieces[0]);
  same('overlap polygons', o.overlap.polygonStart.length - 1, t.pieces[1]);
  const holes = openGround(o.covered, [1, 1], 1e9).narrow;
  same('gaps', holes.polygonStart.length - 1, t.enclosed);
  const within = enclosed(shapes);
  same('enclosed', within.polygonStart.length - 1, t.enclosed);
  const areaM2 = (p: Polygons): number => areaOf(p, DENSITY).reduce((a, b) => a + b, 0);
  same('area enclosed', areaM2(within), areaM2(holes));
  for (const [name, p] of [
    ['covered', o.covered],
    ['overlap', o.overlap],
    ['gaps', holes],
    ['enclosed', within],
  ] as const) {
    if (p.polygonStart.length > 1 && !valid(multipolygon(p))) out.push(`${name} is not valid`);
  }
  const both = cover(shapes, DENSITY);
  const alike = (what: string, got: ArrayLike<number>, want: ArrayLike<number>): void => {
    for (let i = 0; i < Math.max(got.length, want.length); i++) same(`cover: ${what} ${i}`, got[i] ?? 0, want[i] ?? 0);
  };
  alike('depth', both.coverage.areaAtDepthM2, t.depthAreas);
  alike('already covered', both.coverage.alreadyCoveredM2, t.already);
  alike('points', both.rings.covered.xy, o.covered.xy);
  alike('points of overlap', both.rings.overlap.xy, o.overlap.xy);
  if (JSON.stringify(both.coverage.repaired) !== JSON.stringify(m.repaired))
    out.push('cover repairs otherwise than measure');
  return out;
}
