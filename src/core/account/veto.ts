import type { Setting } from '../answer.ts';
import type { Conclusions } from '../infer/index.ts';
import { definitionOf } from '../infer/index.ts';
import type { Unit } from '../planter/types.ts';
import { areaText } from '../planter/units.ts';

/** Areas of the map as it was recorded, square meters. */
interface GroundSums {
  openM2: number;
  twiceM2: number;
}

/** A finding is refuted if the map has less than this share of the ground that it predicts: passes may be covered again, and edges wander, but not by half. */
const LEAST_SEEN = 0.4;

const OF_LAYOUT: ReadonlySet<Setting> = new Set<Setting>([
  'section-idle',
  'section-across-drives',
  'section-stuck-off',
]);
const OF_FILE: ReadonlySet<Setting> = new Set<Setting>(['map-repeated', 'map-units', 'declared-layout']);

/**
 * Measured ground overrules every inference: a finding that predicts open ground, or ground covered twice, that the map does not have is withdrawn,
 * and what it would have explained stays open.
 */
export function withdrawRefuted(j: Conclusions, sums: GroundSums, unit: Unit): Conclusions {
  const undecided = [...j.undecided];
  const kept = j.diagnoses.filter(({ setting, predicts = {} }) => {
    const lacks = (['openM2', 'twiceM2'] as const).find((key) => sums[key] < LEAST_SEEN * (predicts[key] ?? 0));
    if (!lacks) return true;
    const state = lacks === 'openM2' ? 'open' : 'covered twice';
    undecided.push({
      what: `Its records look like ${definitionOf(setting).name}, but that would leave ${areaText(predicts[lacks] ?? 0, unit)} ${state}, and the map shows only ${areaText(sums[lacks], unit)}.`,
      wouldDecide: 'An export of the same map with one polygon for each section and log interval, with times.',
    });
    return false;
  });
  // Where the bands themselves were misread, nothing measured between them is valid.
  const misread = j.diagnoses.some((d) => !kept.includes(d) && OF_LAYOUT.has(d.setting));
  const diagnoses = misread ? kept.filter((d) => OF_FILE.has(d.setting)) : kept;
  // A refuted rival is no rival.
  const left = new Set(diagnoses.map((d) => d.setting));
  return {
    ...j,
    undecided,
    diagnoses: diagnoses.map((d) =>
      d.or?.some((s) => !left.has(s)) ? { ...d, or: d.or.filter((s) => left.has(s)) } : d,
    ),
  };
}
