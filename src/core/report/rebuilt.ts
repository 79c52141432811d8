import type { Unit } from '../planter/types.ts';
import { areaText, grouped } from '../planter/units.ts';
import type { Rebuilt } from '../rebuild/index.ts';
import { CAUTIONS } from '../shared/messages.ts';
import type { Entry } from './entries.ts';

/** What the change log says of the whole map, for the head of its JSON. `source` and `planter` are names. */
export function aboutRebuilt(b: Rebuilt, source: string, by: string): object {
  return {
    map: source,
    planter: b.planters.join(', '),
    planting: b.planting,
    by,
    verdict: b.report?.verdict ?? null,
    says: b.report?.says ?? 'The map was rebuilt with this planter before.',
    // A map that was rebuilt before has a line for each of its records.
    records: b.report?.map.records ?? b.changes.length,
    areaBeforeM2: b.inM2,
    areaM2: b.outM2,
    differenceM2: b.outM2 - b.inM2,
    overlapLeftM2: b.leftOverlapM2,
    residualM2: b.residualM2,
    ratesCorrected: b.ratesCorrected,
    setAside: b.report?.map.setAside ?? [],
    cautions: CAUTIONS,
  };
}

/** What a rebuilt map changes, shown before it is saved. */
export function rebuiltEntries(b: Rebuilt, unit: Unit): Entry[] {
  const counts = new Map<string, number>();
  for (const c of b.changes) counts.set(c.done, (counts.get(c.done) ?? 0) + 1);
  const difference = b.outM2 - b.inM2;
  const size = areaText(Math.abs(difference), unit);
  const facts: Entry[] = [...counts].map(([done, n]) => [done, `${grouped(n, 0)} ${n === 1 ? 'record' : 'records'}`]);
  facts.push(['area before', areaText(b.inM2, unit)]);
  facts.push([
    'area after',
    `${areaText(b.outM2, unit)}${size.startsWith('0 ') ? '' : ` (${size} ${difference < 0 ? 'less' : 'more'})`}`,
  ]);
  if (b.leftOverlapM2 > 0)
    facts.push(['overlap left', `${areaText(b.leftOverlapM2, unit)}, as narrow as positioning noise`]);
  if (b.ratesCorrected.length > 0) facts.push(['rates corrected', b.ratesCorrected.join(', ')]);
  return facts;
}
