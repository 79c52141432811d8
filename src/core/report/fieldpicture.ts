import type { Answer, Evidence } from '../answer.ts';
import { joinPolygons, type Polygons } from '../coverage/index.ts';
import { groupBy } from '../shared/groups.ts';
import { insideOf } from './inside.ts';
import { place } from './markup.ts';
import { seamLines } from './seamlines.ts';
import { hiddenAtFirst, signsOf, signText } from './signs.ts';

/** The field as paths on paper, north up; places in pixels from the top left corner. Only for drawing; nothing is measured here. */
export interface FieldPicture {
  width: number;
  height: number;
  pixelsPerMeter: number;
  covered: string;
  gaps: string;
  overlap: string;
  /** The field boundary; empty without one. */
  boundary: string;
  /** `pass` is 0 where its number would cover another. */
  tracks: { pass: number; path: string; x: number; y: number }[];
  /** Seams whose planted width lies outside the tolerance. */
  seams: { kind: 'gap' | 'overlap'; path: string }[];
  /** The letters that the causes have on the page's map too, at their largest pieces. */
  letters: { letter: string; x: number; y: number }[];
  /** The causes that are lettered, in the order of their letters. */
  causes: { letter: string; says: string }[];
  /** Points in all paths together. */
  points: number;
  /** Spots of gap or overlap too small to draw. */
  tooSmall: number;
}

const MARGIN = 14;
/** Most points that the paths of one picture may hold: a file of some 200 kB. */
const MOST_POINTS = 16_000;
/** Finest deviation of a drawn line from the true one, pixels. */
const FINEST = 0.3;
const MOST_LABELS = 40;
/** Pieces of one cause that carry its letter, and the least distance between two letters, pixels. */
const MOST_LETTERS = 4;
const APART = 24;

/** The picture within `most` by `mostHigh` pixels; null when the map covers no ground. Coarser lines rather than more points. */
export function fieldPicture(answer: Answer, most: number, mostHigh: number): FieldPicture | null {
  const { report, evidence } = answer;
  const ground = boxOf(evidence.covered.xy);
  if (ground === null) return null;
  const box = withBoundary(ground, evidence.boundary);
  const [ex, ny] = evidence.stepsPerMeter;
  const [x0, y0, x1, y1] = box;
  const metersWide = Math.max((x1 - x0) / ex, 1);
  const metersHigh = Math.max((y1 - y0) / ny, 1);
  const scale = Math.min((most - 2 * MARGIN) / metersWide, (mostHigh - 2 * MARGIN) / metersHigh);
  const width = most;
  const height = Math.ceil(metersHigh * scale + 2 * MARGIN);
  const left = (width - metersWide * scale) / 2;
  const toPaper = (xy: ArrayLike<number>, from: number, to: number): Float64Array => {
    const out = new Float64Array(2 * (to - from));
    for (let i = from; i < to; i++) {
      out[2 * (i - from)] = left + ((xy[2 * i] - x0) / ex) * scale;
      out[2 * (i - from) + 1] = MARGIN + ((y1 - xy[2 * i + 1]) / ny) * scale;
    }
    return out;
  };
  let drawn: ReturnType<typeof drawAt> | null = null;
  for (let fine = FINEST; drawn === null || (drawn.points > MOST_POINTS && fine < 40); fine *= 1.8)
    drawn = drawAt(fine, evidence, report.seams.toleranceM, toPaper, { width, height, pixelsPerMeter: scale });
  return { ...drawn, ...lettered(answer, toPaper, drawn.tracks) };
}

/** Each cause but positioning noise, with the places of its letter. */
function lettered(
  answer: Answer,
  toPaper: ToPaper,
  tracks: FieldPicture['tracks'],
): Pick<FieldPicture, 'letters' | 'causes'> {
  const { evidence, planter } = answer;
  const signs = signsOf(answer).filter((s) => !hiddenAtFirst(s));
  const letters: FieldPicture['letters'] = [];
  const causes = groupBy(signs, (s) => s.letter);
  const numbers = tracks.filter((t) => t.pass > 0);
  const isFree = (x: number, y: number): boolean =>
    letters.every((l) => Math.hypot(l.x - x, l.y - y) >= APART) &&
    numbers.every((t) => Math.abs(t.x - x) > APART || Math.abs(t.y - y) > APART / 2);
  for (const [letter, of] of causes) {
    const lines = [...new Set(of.flatMap((s) => s.lines))].map((i) => evidence.account[i]);
    const most = of[0].weight === 'usual' ? MOST_LETTERS / 2 : MOST_LETTERS;
    const pieces = insideOf(joinPolygons(lines))
      .sort((a, b) => b.area - a.area)
      .map((piece) => toPaper([piece.x, piece.y], 0, 1));
    let left = most;
    for (const [x, y] of pieces) {
      if (left === 0) break;
      if (!isFree(x, y)) continue;
      letters.push({ letter, x, y });
      left--;
    }
    // One over a number of a pass rather than none.
    if (left === most && pieces.length > 0) letters.push({ letter, x: pieces[0][0], y: pieces[0][1] });
  }
  const there = new Set(letters.map((l) => l.letter));
  return {
    letters,
    causes: [...causes]
      .filter(([letter]) => there.has(letter))
      .map(([letter, [sign]]) => ({ letter, says: signText(sign, planter.unit) })),
  };
}

type ToPaper = (xy: ArrayLike<number>, from: number, to: number) => Float64Array;

function drawAt(
  fine: number,
  e: Evidence,
  toleranceM: number,
  toPaper: ToPaper,
  size: Pick<FieldPicture, 'width' | 'height' | 'pixelsPerMeter'>,
): Omit<FieldPicture, 'letters' | 'causes'> {
  let points = 0;
  let tooSmall = 0;
  const line = (paper: Float64Array, closed: boolean): string => {
    const kept = simplified(paper, fine);
    points += kept.length / 2;
    return pathOf(kept, closed);
  };
  const area = (p: Polygons, count: boolean): string => {
    let out = '';
    for (let r = 0; r + 1 < p.ringStart.length; r++) {
      const paper = toPaper(p.xy, p.ringStart[r], p.ringStart[r + 1]);
      const b = boxOf(paper);
      if (b === null || Math.max(b[2] - b[0], b[3] - b[1]) < Math.max(0.7, fine)) {
        if (count) tooSmall++;
        continue;
      }
      out += line(paper, true);
    }
    return out;
  };
  const covered = area(e.covered, false);
  const gaps = area(e.gaps, true);
  const overlap = area(e.overlap, true);
  const labelled: { x: number; y: number }[] = [];
  const tracks = e.passes
    .filter((p) => p.track.length >= 4)
    .map((p) => {
      const paper = toPaper(p.track, 0, p.track.length / 2);
      const [x, y] = paper;
      const room =
        labelled.length < MOST_LABELS && labelled.every((l) => Math.abs(l.x - x) > 26 || Math.abs(l.y - y) > 15);
      if (room) labelled.push({ x, y });
      return { pass: room ? p.number : 0, path: line(paper, false), x, y };
    });
  const seams: FieldPicture['seams'] = [];
  seamLines(e).forEach((lines, i) => {
    const m = e.seams[i].plantedM;
    if (!(Math.abs(m) > toleranceM)) return;
    const path = lines.map((l) => line(toPaper(l, 0, l.length / 2), false)).join('');
    if (path !== '') seams.push({ kind: m > 0 ? 'gap' : 'overlap', path });
  });
  const boundary = e.boundary.map((ring) => line(toPaper(ring, 0, ring.length / 2), true)).join('');
  return { ...size, covered, gaps, overlap, boundary, tracks, seams, points, tooSmall };
}

/** Room for the boundary too, as far as the covered ground stays at least two thirds of the picture: some boundaries enclose a whole farm. */
function withBoundary(ground: Box, boundary: readonly Float64Array[]): Box {
  const most = Math.max(ground[2] - ground[0], ground[3] - ground[1]) / 4;
  const box: Box = [...ground];
  for (const ring of boundary) {
    const b = boxOf(ring);
    if (b === null) continue;
    box[0] = Math.min(box[0], Math.max(b[0], ground[0] - most));
    box[1] = Math.min(box[1], Math.max(b[1], ground[1] - most));
    box[2] = Math.max(box[2], Math.min(b[2], ground[2] + most));
    box[3] = Math.max(box[3], Math.min(b[3], ground[3] + most));
  }
  return box;
}

type Box = [number, number, number, number];

function boxOf(xy: ArrayLike<number>): Box | null {
  if (xy.length === 0) return null;
  const b: Box = [xy[0], xy[1], xy[0], xy[1]];
  for (let i = 2; i < xy.length; i += 2) {
    b[0] = Math.min(b[0], xy[i]);
    b[1] = Math.min(b[1], xy[i + 1]);
    b[2] = Math.max(b[2], xy[i]);
    b[3] = Math.max(b[3], xy[i + 1]);
  }
  return b;
}

/** Points of a line kept so that none of the others lies further than `fine` from it (Douglas and Peucker 1973). Ends stay. */
export function simplified(xy: Float64Array, fine: number): Float64Array {
  const n = xy.length / 2;
  if (n < 3) return xy;
  const keep = new Uint8Array(n);
  keep[0] = 1;
  keep[n - 1] = 1;
  const todo: [number, number][] = [[0, n - 1]];
  for (let part = todo.pop(); part; part = todo.pop()) {
    const [a, b] = part;
    let far = -1;
    let most = fine;
    for (let i = a + 1; i < b; i++) {
      const d = distance(xy, i, a, b);
      if (d > most) {
        most = d;
        far = i;
      }
    }
    if (far < 0) continue;
    keep[far] = 1;
    todo.push([a, far], [far, b]);
  }
  return xy.filter((_, i) => keep[i >> 1] === 1);
}

/** From point i to the stretch between points a and b. */
function distance(xy: Float64Array, i: number, a: number, b: number): number {
  const dx = xy[2 * b] - xy[2 * a];
  const dy = xy[2 * b + 1] - xy[2 * a + 1];
  const px = xy[2 * i] - xy[2 * a];
  const py = xy[2 * i + 1] - xy[2 * a + 1];
  const l2 = dx * dx + dy * dy;
  const t = l2 === 0 ? 0 : Math.min(1, Math.max(0, (px * dx + py * dy) / l2));
  return Math.hypot(px - t * dx, py - t * dy);
}

function pathOf(xy: Float64Array, closed: boolean): string {
  let out = '';
  for (let i = 0; i < xy.length; i += 2) out += `${i === 0 ? 'M' : 'L'}${place(xy[i])} ${place(xy[i + 1])}`;
  return closed ? `${out}Z` : out;
}
