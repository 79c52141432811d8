import type { Answer } from '../answer.ts';

/** A stretch of bars in planting order. Widths in metres: of all records of a bar together. */
export interface TimeStretch {
  /** First bar, and the one after the last; counted from 0. */
  from: number;
  to: number;
  narrowestM: number;
  widestM: number;
  fewestSections: number;
  mostSections: number;
}

export interface Timeline {
  bars: number;
  stretches: TimeStretch[];
  /** Where each pass begins. */
  passes: { number: number; bar: number; startMs: number | null }[];
  declaredM: number;
  declaredSections: number;
  /** The scales end here. */
  reachM: number;
  reachSections: number;
}

/** Stretches of the recorded width and of the sections that recorded, bar after bar, at most `most` of them; null without bars. */
export function timelineOf({ report, evidence }: Answer, most = 400): Timeline | null {
  const { bars } = report.map;
  if (bars === 0) return null;
  const width = new Float64Array(bars);
  const sections = new Uint16Array(bars);
  evidence.recordBar.forEach((b, r) => {
    const w = evidence.recordWidthM[r];
    if (b < 0 || b >= bars || Number.isNaN(w)) return;
    width[b] += w;
    sections[b]++;
  });
  const count = Math.min(bars, most);
  const stretches: TimeStretch[] = [];
  for (let k = 0; k < count; k++) {
    const from = Math.floor((k * bars) / count);
    const to = Math.floor(((k + 1) * bars) / count);
    const s: TimeStretch = {
      from,
      to,
      narrowestM: Number.POSITIVE_INFINITY,
      widestM: 0,
      fewestSections: Number.POSITIVE_INFINITY,
      mostSections: 0,
    };
    for (let b = from; b < to; b++) {
      s.narrowestM = Math.min(s.narrowestM, width[b]);
      s.widestM = Math.max(s.widestM, width[b]);
      s.fewestSections = Math.min(s.fewestSections, sections[b]);
      s.mostSections = Math.max(s.mostSections, sections[b]);
    }
    const last = stretches[stretches.length - 1];
    if (last && alike(last, s)) last.to = to;
    else stretches.push(s);
  }
  let bar = 0;
  const passes = evidence.passes.map((p) => {
    const at = bar;
    bar += p.bars;
    return { number: p.number, bar: at, startMs: p.startMs };
  });
  const declaredM = report.declared.workingWidthM;
  const declaredSections = report.declared.sections.length;
  return {
    bars,
    stretches,
    passes,
    declaredM,
    declaredSections,
    reachM: 1.1 * stretches.reduce((m, s) => Math.max(m, s.widestM), declaredM),
    reachSections: 1.1 * stretches.reduce((m, s) => Math.max(m, s.mostSections), declaredSections),
  };
}

/** Drawn as one: less than the rounding of common map files apart. */
function alike(a: TimeStretch, b: TimeStretch): boolean {
  return (
    Math.abs(a.narrowestM - b.narrowestM) < 0.02 &&
    Math.abs(a.widestM - b.widestM) < 0.02 &&
    a.fewestSections === b.fewestSections &&
    a.mostSections === b.mostSections
  );
}
