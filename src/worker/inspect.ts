/** A map without a planter: what it shows on its own, and planters that would record such a map. */
import type { Answer } from '../core/answer.ts';
import { checkSource } from '../core/check.ts';
import { type ProposedPlanter, proposePlanters, readPlanter } from '../core/planter/index.ts';
import type { Planter } from '../core/planter/types.ts';
import { type Fitted, fitMap } from '../core/steps/fit/index.ts';
import { jobOf } from '../core/steps/job.ts';
import type { Source } from '../core/steps/source.ts';
import type { DateOrder } from '../core/track/columns/index.ts';

export interface Inspection {
  /** Facts, areas and pictures of the recorded map. Its verdict means nothing: the planter that it names was made from the map. */
  answer: Answer;
  /** Likeliest first; empty where the map shows no width, or none that a planter has. */
  proposals: ProposedPlanter[];
  /** Machines as a column of the map names them; empty without one. */
  machines: string[];
}

/** A millimeter or two of rounding on either edge of a band, meters. */
const LEAST_TOLERANCE_M = 0.012;
/** A usual frame, for maps that show no width at all, meters. */
const USUAL_M = 9.144;

export function inspectMap(
  source: Source,
  { columns, dates }: { columns?: Record<string, string>; dates?: DateOrder },
  progress: (stage: string, done: number) => void,
): Inspection {
  const chosen = { ...(columns ? { columns } : {}), ...(dates ? { dates } : {}) };
  const job = (planter: Planter) => jobOf({ planter, ...chosen }, { progress });
  const observed = observedIn(fitMap(source.records, job(anyPlanter())));
  const proposals = observed ? proposePlanters(observed) : [];
  const planter = proposals[0]
    ? readPlanter(JSON.stringify(proposals[0].file), 'proposed.planter.json')
    : asWide(observed?.workingWidthM ?? USUAL_M);
  const answer = checkSource(source, job(planter));
  const named = answer.report.map.columns.machine !== undefined;
  return { answer, proposals, machines: named ? answer.report.machines.map((m) => m.name) : [] };
}

/** A placeholder where reading and tracing need a planter but do not use it. */
export const anyPlanter = (): Planter => asWide(USUAL_M);

/** Widths of the stretch that most bars show, of the machine that drove furthest; null where no width is known. */
function observedIn(parts: readonly Fitted[]): Parameters<typeof proposePlanters>[0] | null {
  const bars = (p: Fitted): number => p.passes.bars;
  const main = parts.reduce((a, b) => (bars(b) > bars(a) ? b : a));
  const segment = main.bands.segments.reduce<Fitted['bands']['segments'][number] | null>(
    (a, s) => (a === null || s.to - s.from > a.to - a.from ? s : a),
    null,
  );
  if (!segment || !(segment.widthM > 0)) return null;
  const bySections = (main.grain === 'section' || main.grain === 'strip') && segment.bands.length > 1;
  return {
    workingWidthM: segment.widthM,
    sectionsM: bySections ? segment.bands.map((b) => b.rightM - b.leftM) : [],
    toleranceM: Math.max(LEAST_TOLERANCE_M, 2 * segment.width.standardError),
  };
}

/** Any frame of a width, as a placeholder where the planter is not known. */
function asWide(widthM: number): Planter {
  const rows = Math.max(2, Math.min(500, Math.round(widthM / 0.762)));
  const rowSpacing = Math.min(3, Math.max(0.05, widthM / rows));
  const file = { name: 'Not known', unit: 'm', rows, rowSpacing, plantings: { every: 'all' } };
  return readPlanter(JSON.stringify(file), 'not known');
}
