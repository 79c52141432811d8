/** Where the user did not name the planting, the map is checked under each one; nothing that depends on the choice is decided. */
import { verdictOfAll } from '../account/index.ts';
import type { Answer, MachineSummary } from '../answer.ts';
import { type Fitted, refit } from './fit/index.ts';
import type { Job } from './job.ts';

/** `answer` is that of the plantings that the map fits best; `answerWith` gives it for others. */
export function underEachPlanting(
  answer: Answer,
  parts: readonly Fitted[],
  job: Job,
  answerWith: (parts: readonly Fitted[]) => Answer,
): Answer {
  const machines = answer.report.machines.map((machine, m) => {
    const part = parts[m];
    if (!part.plantingFound) return machine;
    const each = part.planter.plantings.map((planting) => {
      if (planting.name === part.planting.name) return machine;
      const others = parts.map((p) => (p === part ? refit(part, planting, job) : p));
      return answerWith(others).report.machines[m];
    });
    return underEach(machine, each);
  });
  if (machines.every((m, i) => m === answer.report.machines[i])) return answer;
  const { ifPlanted } = machines[0];
  const verdict = verdictOfAll(machines);
  // A diagnosis holds only if its planting was planted; where that is open, each is listed under its planting.
  const open = new Set(machines.filter((m) => m.ifPlanted.length > 0 && m.verdict === 'undecided').map((m) => m.name));
  const diagnoses = answer.report.diagnoses.filter((d) => !open.has(d.machine ?? machines[0].name));
  return {
    ...answer,
    report: { ...answer.report, ...verdict, machines, diagnoses, ifPlanted: machines.length === 1 ? ifPlanted : [] },
  };
}

/** One machine under one planting after the other: `best` is the one that its map fits best, and is shown with the verdict of all. */
function underEach(best: MachineSummary, each: readonly MachineSummary[]): MachineSummary {
  const ifPlanted = each.map(({ planting, verdict, says, settings }) => ({ planting, verdict, says, settings }));
  if (each.every((m) => m.verdict === best.verdict)) return { ...best, ifPlanted };
  return {
    ...best,
    ifPlanted,
    verdict: 'undecided',
    says: `Undecided: the planting was not named. ${ifPlanted.map((p) => `If "${p.planting}" was planted: ${p.says}`).join(' ')}`,
    wouldDecide: ['Say what was planted (--planting NAME). If that is not known: dig, and count the rows in one pass.'],
    settings: [],
  };
}
