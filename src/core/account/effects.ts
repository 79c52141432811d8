import type { Effect, Finding, MeasuredEffect } from '../answer.ts';
import { HECTARE_M2 } from '../planter/units.ts';
import type { Account, AccountLine } from './types.ts';

/**
 * The effect of a setting on the field: sums over the account lines that it explains, alone or with others. Null where it explains
 * no line that could show it.
 *
 * Acre count: ground recorded less ground planted over the passes in question, relative to what the whole map planted.
 */
export function effectOf(finding: Pick<Finding, 'setting'>, account: Account): MeasuredEffect {
  const own = account.lines
    .map((p) => p.line)
    .filter((l) => l.setting === finding.setting || l.or?.includes(finding.setting));
  const sum = (list: readonly AccountLine[], of: (l: AccountLine) => number): number =>
    list.reduce((s, l) => s + of(l), 0);
  const counted = own.filter((l) => l.excessM2 !== 0);
  const ground = own.filter((l) => l.fact !== 'width' && (l.picture === 'planted' || !account.plantedApart));
  return {
    acreCountPct:
      counted.length > 0 && account.plantedCountM2 > 0
        ? (100 * sum(counted, (l) => l.excessM2)) / account.plantedCountM2
        : null,
    unplantedM2: ground.length > 0 ? sum(ground, (l) => (l.fact === 'gap' ? l.areaM2 : 0)) : null,
    doubledM2: ground.length > 0 ? sum(ground, (l) => (l.fact === 'overlap' ? l.areaM2 : 0)) : null,
  };
}

/**
 * What follows from a measured effect. Population: the same seed divided by recorded instead of planted area, so the factor is
 * planted / recorded = 1 / (1 + acre count off by). Seed cost: price for an area planted once, times the area.
 */
export function consequencesOf(e: MeasuredEffect, perHa: number | null): Effect {
  const cost = (m2: number | null): number | null => (m2 === null || perHa === null ? null : (m2 / HECTARE_M2) * perHa);
  const doubledCost = cost(e.doubledM2);
  const unplantedCost = cost(e.unplantedM2);
  return {
    ...e,
    populationFactor: e.acreCountPct === null ? null : 1 / (1 + e.acreCountPct / 100),
    seedCost: doubledCost === null && unplantedCost === null ? null : { doubledCost, unplantedCost },
  };
}
