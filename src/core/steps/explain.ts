/** The account of the whole field, and each machine's share of it with its verdict. */
import {
  type Account,
  accountOf,
  doubtsOf,
  makeAccount,
  recordedAndTraveledAreas,
  type Verdict,
  verdictOf,
  withdrawRefuted,
} from '../account/index.ts';
import type { Facts } from '../infer/index.ts';
import type { RecordSet } from '../intake/types.ts';
import { findReplants } from '../observe/index.ts';
import type { Passes } from '../track/types.ts';
import type { Diagnosed } from './diagnose.ts';
import type { Job } from './job.ts';
import type { Field } from './join.ts';
import type { Areas } from './measure.ts';

/** One machine with its own account and verdict. */
export interface DiagnosedPart extends Diagnosed {
  /** The lines of the account that touch its passes. */
  account: Account;
  verdict: Verdict;
}

export interface Explained {
  account: Account;
  parts: DiagnosedPart[];
}

export function explainField(
  records: RecordSet,
  found: readonly Diagnosed[],
  field: Field,
  areas: Areas,
  job: Job,
): Explained {
  const { gaps, overlaps } = areas.recorded;
  const sums = { openM2: gaps.areaM2, twiceM2: overlaps.areaM2 };
  const diagnosed = found.map((p) => ({ ...p, conclusions: withdrawRefuted(p.conclusions, sums, job.planter.unit) }));
  // What the planter did on the ground cannot be drawn on a map of the wrong scale.
  const isToScale = diagnosed.every((p) => p.conclusions.diagnoses.every((d) => d.setting !== 'map-units'));
  const account = makeAccount({
    ...areas.recorded,
    planted: isToScale ? areas.planted : null,
    widths: diagnosed.flatMap((p) => p.widths.facts),
    plantedCountM2: diagnosed.reduce((s, p) => s + p.widths.plantedM2, 0),
    parts: diagnosed.map(({ part, facts, conclusions }) => ({
      findings: conclusions.diagnoses,
      observations: conclusions.observations,
      passes: new Set(part.passes.number),
      ruleBreaks: facts.ruleBreaks,
    })),
    startMs: diagnosed[0].part.origins.startMs,
    replants: replantsByPass(field.passes, diagnosed[0].facts.columns.timeIsClock),
    passTravelM: travelByPass(field.passes),
    limits: areas.limits,
    unit: job.planter.unit,
  });
  return {
    account,
    parts: diagnosed.map((p) => {
      // Ground between no known passes belongs to the one machine, and to none of several.
      const own = diagnosed.length === 1 ? account : accountOf(account, new Set(p.part.passes.number));
      return {
        ...p,
        account: own,
        verdict: verdictOf(p.conclusions, own, aboutOf(p.facts, areas.unplaced.areaM2, records)),
      };
    }),
  };
}

const aboutOf = (facts: Facts, unplacedM2: number, records: RecordSet) => {
  const { planting, layout, coveredM2, recordedM2, planter, grain, passes } = facts;
  const track = grain === 'blob' ? null : recordedAndTraveledAreas(passes);
  return {
    unplacedM2,
    doubts: doubtsOf(records, recordedM2, track, planter.unit),
    planting: planting.name,
    layout,
    coveredM2,
    unit: planter.unit,
    grain,
  };
};

/** Replants by the number of the pass less one; none where times are not a clock's. */
function replantsByPass(passes: Passes, clock: boolean): Uint8Array {
  const out = new Uint8Array(passes.number.reduce((m, n) => Math.max(m, n), 0));
  if (clock)
    findReplants(passes).forEach((is, p) => {
      out[passes.number[p] - 1] = is;
    });
  return out;
}

/** Travel of each pass by its number less one, meters. */
function travelByPass(passes: Passes): Float64Array {
  const out = new Float64Array(passes.number.reduce((m, n) => Math.max(m, n), 0));
  for (let p = 0; p < passes.number.length; p++)
    for (let b = passes.passStart[p]; b < passes.passStart[p + 1]; b++) out[passes.number[p] - 1] += passes.lengthM[b];
  return out;
}
