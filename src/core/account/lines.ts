import type { Polygons } from '../coverage/index.ts';
import { joinPolygons } from '../coverage/index.ts';
import type { GroundFacts, GroundLine } from '../ground/index.ts';
import type { Unit } from '../planter/types.ts';
import { groupBy } from '../shared/groups.ts';
import {
  type Attribution,
  type CauseContext,
  type Claim,
  causeOfGround,
  causeOfWidth,
  claimsSupportedBySeams,
  type Limits,
  passesBeside,
} from './causes.ts';
import { sentenceOf } from './sentences.ts';
import { type AccountLine, HARMLESS, type PlacedLine } from './types.ts';
import type { WidthFact } from './widths.ts';

const NOWHERE: Polygons = {
  xy: new Float64Array(0),
  ringStart: new Uint32Array(1),
  polygonStart: new Uint32Array(1),
};

interface Piece {
  line: GroundLine;
  attribution: Attribution;
  passes: number[];
}

/** Lines about open or doubly covered ground: pieces of one cause whose passes touch are one line. Their areas add up to `facts.areaM2`. */
export function groundLines(
  facts: GroundFacts,
  fact: GroundLine['fact'],
  picture: AccountLine['picture'],
  means: CauseContext,
  unit: Unit,
): PlacedLine[] {
  const { limits } = means;
  const overlapM = overlappedTravelM(facts.lines, means);
  const seen = { ...means, claims: claimsSupportedBySeams(facts.lines, picture, means) };
  const pieces = facts.lines.map((line): Piece => {
    const passes = passesBeside(line).sort((a, b) => a - b);
    return { line, attribution: causeOfGround(line, picture, seen, overlapM), passes };
  });
  const out = groups(pieces).map((group): PlacedLine => {
    const { attribution } = group[0];
    const widths = group.map((p) => p.line.widthM);
    const body = {
      fact,
      picture,
      areaM2: group.reduce((s, p) => s + p.line.areaM2, 0),
      lengthM: group.reduce((s, p) => s + p.line.lengthM, 0),
      widthM: [Math.min(...widths), Math.max(...widths)] as [number, number],
      passes: [...new Set(group.flatMap((p) => p.passes))].sort((a, b) => a - b),
      ...attribution,
      excessM2: attribution.setting === 'map-repeated' ? group.reduce((s, p) => s + p.line.areaM2, 0) : 0,
    };
    return {
      line: { ...body, says: sentenceOf(body, unit) },
      polygons: joinPolygons(group.map((p) => p.line.polygons)),
    };
  });
  if (facts.noiseM2 !== 0 || facts.noise.xy.length > 0)
    addNoise(out, facts.noiseM2, facts.noise, fact, picture, limits, unit);
  return out;
}

/** Travel along which passes overlap by more than steering explains, meters. The strips of a bar that is recorded with gaps count once. */
function overlappedTravelM(lines: readonly GroundLine[], { limits, passTravelM }: CauseContext): number {
  const pairs = new Map<string, number>();
  for (const l of lines) {
    if (l.fact !== 'overlap' || l.between !== 'sides' || l.a === l.b || l.widthM <= limits.steeringM) continue;
    const mostM = Math.min(...passesBeside(l).map(passTravelM));
    const key = `${l.a} ${l.b}`;
    pairs.set(key, Math.min(mostM, (pairs.get(key) ?? 0) + l.lengthM));
  }
  return [...pairs.values()].reduce((s, m) => s + m, 0);
}

/** Slivers join the line for positioning noise, or make one. */
function addNoise(
  out: PlacedLine[],
  areaM2: number,
  polygons: Polygons,
  fact: GroundLine['fact'],
  picture: AccountLine['picture'],
  limits: Limits,
  unit: Unit,
): void {
  const known = out.find((p) => p.line.cause === 'noise');
  const body = {
    fact,
    picture,
    areaM2: areaM2 + (known?.line.areaM2 ?? 0),
    lengthM: known?.line.lengthM ?? 0,
    widthM: [0, limits.noiseM] as [number, number],
    passes: known?.line.passes ?? [],
    cause: 'noise' as const,
    confidence: 1,
    excessM2: 0,
  };
  const line = { ...body, says: sentenceOf(body, unit) };
  if (known) {
    known.line = line;
    known.polygons = joinPolygons([known.polygons, polygons]);
  } else out.push({ line, polygons });
}

/** Pieces with the same cause and setting; open ones only where their passes are the same or follow each other. */
function groups(pieces: readonly Piece[]): Piece[][] {
  const byCause = groupBy(pieces, ({ line, attribution: { cause, setting } }) => {
    const ends = line.between === 'sides' ? 'sides' : 'ends';
    return `${cause} ${setting ?? ''} ${cause === 'unexplained' ? ends : ''}`;
  });
  return [...byCause.values()].flatMap((list) => (isOpen(list[0].attribution) ? touching(list) : [list]));
}

const isOpen = (j: Attribution): boolean => !HARMLESS.has(j.cause) && j.cause !== 'setting';

function touching(list: Piece[]): Piece[][] {
  const sorted = [...list].sort((a, b) => (a.passes[0] ?? 0) - (b.passes[0] ?? 0));
  const out: Piece[][] = [];
  let last = -2;
  for (const p of sorted) {
    const first = p.passes[0] ?? 0;
    if (out.length === 0 || first > last + 2) out.push([p]);
    else out[out.length - 1].push(p);
    last = Math.max(last, p.passes[p.passes.length - 1] ?? 0);
  }
  return out;
}

/** Lines about bars whose width is not the declared one. */
export function widthLines(
  facts: readonly WidthFact[],
  claims: readonly Claim[],
  limits: Limits,
  unit: Unit,
): PlacedLine[] {
  return facts.map((f) => {
    const body = {
      fact: 'width' as const,
      picture: 'recorded' as const,
      areaM2: Math.abs(f.excessM2),
      lengthM: f.lengthM,
      widthM: [f.recordedM, f.declaredM] as [number, number],
      passes: f.passes,
      ...causeOfWidth(f, claims, limits),
      excessM2: f.excessM2,
    };
    return { line: { ...body, says: sentenceOf(body, unit) }, polygons: NOWHERE };
  });
}
