import type { Unit } from '../planter/types.ts';
import { areaText } from '../planter/units.ts';
import type { Rebuilt } from '../rebuild/index.ts';
import { CAUTIONS } from '../shared/messages.ts';
import type { Entry } from './entries.ts';
import { countText } from './numbers.ts';

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
  const facts: Entry[] = [...counts].map(([done, n]) => [done, countText(n, 'record')]);
  if (b.report && !b.unchanged) facts.push(['records', recordsSays(b, b.report.map.used)]);
  facts.push(['area before', areaText(b.inM2, unit)]);
  facts.push(['area after', `${areaText(b.outM2, unit)}${differenceSays(b, unit)}`]);
  if (b.leftOverlapM2 > 0)
    facts.push(['overlap left', `${areaText(b.leftOverlapM2, unit)}, as narrow as positioning noise`]);
  if (b.ratesCorrected.length > 0) facts.push(['rates corrected', b.ratesCorrected.join(', ')]);
  return facts;
}

/** Why the counts of the log are not the number of records that were read. */
function recordsSays(b: Rebuilt, read: number): string {
  const out = b.changes.filter((c) => c.output !== null).length;
  const without = b.changes.length - out;
  return (
    `${countText(read, 'record')} of the map became ${countText(out, 'record')} of the rebuilt one` +
    `${without > 0 ? `; ${countText(without, 'more line')} of the log ${without === 1 ? 'is' : 'are'} about ground that is left out` : ''}. ` +
    'A bar is redrawn with the sections that the planter has: one record may become several, and several one.'
  );
}

/** The difference in area and its parts, which add up: the width of the bars, ground that is counted once, and records that are left out. */
function differenceSays({ changes, inM2, outM2 }: Rebuilt, unit: Unit): string {
  const difference = outM2 - inM2;
  const cut = changes.reduce((sum, c) => sum + c.cutM2, 0);
  const gone = changes.reduce((sum, c) => sum + (c.output === null && c.cutM2 === 0 ? c.inM2 : 0), 0);
  const parts: [number, string][] = [
    [difference + cut + gone, 'because bars are as wide as they were planted'],
    [-cut, 'because ground covered twice is counted once'],
    [-gone, 'in records that are left out'],
  ];
  const text = (m2: number): string => `${areaText(Math.abs(m2), unit)} ${m2 < 0 ? 'less' : 'more'}`;
  const shown = parts.filter(([m2]) => !areaText(Math.abs(m2), unit).startsWith('0 '));
  if (shown.length === 0) return '';
  const why = shown.map(([m2, because]) => `${text(m2)} ${because}`).join(', ');
  return shown.length === 1 ? ` (${why})` : ` (${text(difference)}: ${why})`;
}
