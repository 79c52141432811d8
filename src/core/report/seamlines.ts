/** Where to draw a seam: half-way between the tracks of its two passes. For drawing only; nothing is measured here. */
import type { Evidence, PassDrawing } from '../answer.ts';

/** At most this many points of a track are used. */
const POINTS = 80;

/** Lines of each seam of `evidence.seams`, lattice steps interleaved; several where the passes separate in between. */
export function seamLines({
  passes,
  seams,
  stepsPerMeter,
}: Pick<Evidence, 'passes' | 'seams' | 'stepsPerMeter'>): number[][][] {
  const byNumber = new Map(passes.map((p) => [p.number, p]));
  return seams.map((s) => {
    const a = byNumber.get(s.passA);
    const b = byNumber.get(s.passB);
    return a && b ? between(a, b, stepsPerMeter) : [];
  });
}

function between(a: PassDrawing, b: PassDrawing, perMeter: readonly [number, number]): number[][] {
  const reachM = 0.8 * (a.recordedWidthM + b.recordedWidthM) + 1;
  const every = Math.max(1, Math.floor(a.track.length / 2 / POINTS));
  const lines: number[][] = [];
  let line: number[] = [];
  for (let i = 0; i < a.track.length; i += 2 * every) {
    const near = nearest(b.track, a.track[i], a.track[i + 1], perMeter);
    if (near && near.m < reachM && !near.end) {
      line.push((a.track[i] + near.x) / 2, (a.track[i + 1] + near.y) / 2);
    } else {
      if (line.length > 2) lines.push(line);
      line = [];
    }
  }
  if (line.length > 2) lines.push(line);
  return lines;
}

interface Near {
  x: number;
  y: number;
  m: number;
  /** The nearest spot is an end of the track: the passes do not lie side by side here. */
  end: boolean;
}

function nearest(track: Float64Array, px: number, py: number, [ex, ny]: readonly [number, number]): Near | null {
  let best: Near | null = null;
  const last = track.length - 4;
  for (let i = 0; i <= last; i += 2) {
    const ax = (track[i] - px) / ex;
    const ay = (track[i + 1] - py) / ny;
    const dx = (track[i + 2] - track[i]) / ex;
    const dy = (track[i + 3] - track[i + 1]) / ny;
    const l2 = dx * dx + dy * dy;
    const free = l2 === 0 ? 0 : -(ax * dx + ay * dy) / l2;
    const t = Math.min(1, Math.max(0, free));
    const m = Math.hypot(ax + t * dx, ay + t * dy);
    if (best && m >= best.m) continue;
    const end = (i === 0 && free < -0.5) || (i === last && free > 1.5);
    best = { x: track[i] + t * (track[i + 2] - track[i]), y: track[i + 1] + t * (track[i + 3] - track[i + 1]), m, end };
  }
  return best;
}
