import type { Diagnosis, Report } from '../answer.ts';
import type { Unit } from '../planter/types.ts';
import { ACRE_M2, areaText, grouped, HECTARE_M2, trim } from '../planter/units.ts';
import { upperFirst } from '../shared/messages.ts';
import { SETTING_TITLE } from './labels.ts';

/** The sentence where `effectLines` has no line. */
export const NO_EFFECT = 'No effect on the areas of this map.';

/** What a fault did to the field, a sentence each, with the condition under which it holds; empty when the map shows nothing of it. */
export function effectLines(d: Diagnosis, report: Report, unit: Unit): string[] {
  const e = d.effect;
  const out: string[] = [];
  if (e.acreCountPct !== null) out.push(countLine(d, e.acreCountPct, report, unit));
  if (isSome(e.unplantedM2, unit)) out.push(`${areaText(e.unplantedM2, unit)} left without rows.`);
  if (isSome(e.doubledM2, unit)) out.push(`${areaText(e.doubledM2, unit)} planted twice.`);
  if (e.populationFactor !== null && trim(100 * (e.populationFactor - 1), 1) !== '0')
    out.push(`If a population or rate was computed from the recorded area, it reads ${offBy(e.populationFactor)}.`);
  const first = report.diagnoses.findIndex((o) => isSameGround(o.effect, e, unit));
  if (first >= 0 && first < report.diagnoses.findIndex((o) => o.effect === e))
    out.push(`It is the same ground as under "${SETTING_TITLE[report.diagnoses[first].setting]}": count it once.`);
  return [...out, ...seedLines(e, report.declared.seedCostPerHa, unit)];
}

/** "6.2 % too low", or from twice on "2.5 times the true one". */
function offBy(factor: number): string {
  if (factor >= 2) return `${trim(factor, 2)} times the true one`;
  return `${trim(100 * Math.abs(factor - 1), 1)} % too ${factor < 1 ? 'low' : 'high'}`;
}

/** "2.47 ac (12 %) missing from the acre count." */
function countLine({ setting, machine }: Diagnosis, pct: number, report: Report, unit: Unit): string {
  const count = `the ${unit === 'in' ? 'acre' : 'hectare'} count`;
  const by = trim(Math.abs(pct), 1);
  if (by === '0') return `${upperFirst(count)} is right.`;
  const own = report.machines.find((m) => m.name === machine)?.passes ?? null;
  const lines = report.account.filter(
    (l) =>
      (l.setting === setting || l.or?.includes(setting)) && (own === null || l.passes.some((p) => own.includes(p))),
  );
  const m2 = Math.abs(lines.reduce((s, l) => s + l.excessM2, 0));
  return `${areaText(m2, unit)} (${by} %) ${pct > 0 ? 'too much in' : 'missing from'} ${count}.`;
}

/** Two findings that explain one map each carry all of what was spoilt in it. */
function isSameGround(a: Diagnosis['effect'], b: Diagnosis['effect'], unit: Unit): boolean {
  const shown = isSome(a.unplantedM2, unit) || isSome(a.doubledM2, unit);
  return shown && a.unplantedM2 === b.unplantedM2 && a.doubledM2 === b.doubledM2;
}

function seedLines(e: Diagnosis['effect'], perHa: number | null, unit: Unit): string[] {
  if (e.seedCost === null || perHa === null) return [];
  const price =
    unit === 'in'
      ? `${grouped((perHa * ACRE_M2) / HECTARE_M2, 2)} of seed per acre`
      : `${grouped(perHa, 2)} of seed per hectare`;
  const { doubledCost: twice, unplantedCost: none } = e.seedCost;
  const out: string[] = [];
  if (twice !== null && twice >= 0.005) out.push(`${grouped(twice, 2)} of seed went down a second time`);
  if (none !== null && none >= 0.005)
    out.push(`${grouped(none, 2)} of seed would have gone into the ground left without rows`);
  return out.length === 0 ? [] : [`At ${price}, if the rows planted at the full rate: ${out.join('; ')}.`];
}

/** More than the last figure that a report shows. */
function isSome(m2: number | null, unit: Unit): m2 is number {
  return m2 !== null && m2 > 0 && !areaText(m2, unit).startsWith('0 ');
}
