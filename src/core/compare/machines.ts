/** Machines of two maps, paired: each with the answer about it alone. */
import type { Answer, MachineSummary } from '../answer.ts';

export interface MachinePair {
  machine: string;
  planter: string;
  /** Null where that map has no passes of it. */
  before: Answer | null;
  after: Answer | null;
}

/** By name; machines that nothing names by their planter, where one of each map has it. */
export function machinePairs(before: Answer, after: Answer): MachinePair[] {
  const [old, now] = [before.report.machines, after.report.machines];
  const rest = [...old];
  const take = (m: MachineSummary | undefined): MachineSummary | null => {
    if (m === undefined) return null;
    rest.splice(rest.indexOf(m), 1);
    return m;
  };
  const named = now.map((m) => ({ m, was: take(rest.find((o) => o.name === m.name && o.planter === m.planter)) }));
  for (const pair of named) {
    if (pair.was !== null) continue;
    const alike = rest.filter((o) => o.planter === pair.m.planter);
    const rivals = named.filter((p) => p.was === null && p.m.planter === pair.m.planter);
    if (alike.length === 1 && rivals.length === 1) pair.was = take(alike[0]);
  }
  return [
    ...named.map(({ m, was }) => ({
      machine: m.name,
      planter: m.planter,
      before: was && answerOf(before, was),
      after: answerOf(after, m),
    })),
    ...rest.map((o) => ({ machine: o.name, planter: o.planter, before: answerOf(before, o), after: null })),
  ];
}

/** The answer as it speaks of one machine. */
function answerOf(answer: Answer, m: MachineSummary): Answer {
  const { report, evidence } = answer;
  const own = new Set(m.passes);
  const bars = evidence.passes.reduce((n, p) => (own.has(p.number) ? n + p.bars : n), 0);
  const { verdict, says, wouldDecide, declared, recorded, seams, ifPlanted } = m;
  return {
    ...answer,
    report: {
      ...report,
      verdict,
      says,
      wouldDecide,
      map: { ...report.map, passes: m.passes.length, bars, travelM: m.travelM },
      machines: [m],
      declared,
      recorded,
      seams,
      ifPlanted,
      diagnoses: report.diagnoses.filter((d) => d.machine === undefined || d.machine === m.name),
    },
  };
}
