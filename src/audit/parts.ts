/** The season at a glance: totals, fields that wait for their planting, since when a setting was wrong and what to rebuild, and what was not read. */

import type { Unit } from '../core/planter/types.ts';
import { areaText } from '../core/planter/units.ts';
import { grouped } from '../core/report/index.ts';
import { type Markup, markup } from '../core/report/markup.ts';
import { groupBy } from '../core/shared/groups.ts';
import type { Flip, Season, Stretch } from './group.ts';
import { type Done, type Outcome, VERDICT } from './types.ts';

/** Fields, ground and money by verdict; copies of a map count once. */
interface Total {
  verdict: Outcome;
  fields: number;
  coveredM2: number;
  affectedM2: number;
  /** Seed planted twice and seed that was not planted, in the user's money; null without a price. */
  cost: number | null;
}

export function totalsOf(fields: readonly Done[]): Total[] {
  return (Object.keys(VERDICT) as Outcome[]).flatMap((verdict) => {
    const mine = fields.filter((f) => f.sameAs === null && f.row.verdict === verdict);
    if (mine.length === 0) return [];
    const costs = mine.flatMap((f) => (f.row.cost === null ? [] : [f.row.cost]));
    return [
      {
        verdict,
        fields: mine.length,
        coveredM2: mine.reduce((s, f) => s + f.row.coveredM2, 0),
        affectedM2: mine.reduce((s, f) => s + f.row.affectedM2, 0),
        cost: costs.length === 0 ? null : costs.reduce((s, c) => s + c, 0),
      },
    ];
  });
}

/** The unit that most fields of the audit are declared in. */
export function unitOf(fields: readonly Done[]): Unit {
  const known = fields.filter((f) => f.row.planter !== '');
  return known.filter((f) => f.row.unit === 'in').length * 2 > known.length ? 'in' : (known[0]?.row.unit ?? 'm');
}

export const moneyText = (v: number): string => grouped(v, 2);

export function totalsPart(fields: readonly Done[]): Markup | null {
  const totals = totalsOf(fields);
  if (totals.length === 0) return null;
  const unit = unitOf(fields);
  const priced = totals.some((t) => t.cost !== null);
  const cell = (text: string) => markup`<td class="number">${text}</td>`;
  const row = (name: string, t: Omit<Total, 'verdict'>) =>
    markup`<tr><th scope="row">${name}</th>${cell(grouped(t.fields, 0))}${cell(areaText(t.coveredM2, unit))}${cell(t.affectedM2 > 0 ? areaText(t.affectedM2, unit) : '')}${priced ? cell(t.cost === null ? '' : moneyText(t.cost)) : null}</tr>`;
  const add = (of: (t: Total) => number): number => totals.reduce((n, t) => n + of(t), 0);
  const sum = {
    fields: add((t) => t.fields),
    coveredM2: add((t) => t.coveredM2),
    affectedM2: add((t) => t.affectedM2),
    cost: priced ? add((t) => t.cost ?? 0) : null,
  };
  return markup`<div class="scroll" role="region" aria-label="Totals" tabindex="0"><table class="totals"><thead><tr><th scope="col">Verdict</th><th scope="col">Fields</th><th scope="col">Ground covered</th><th scope="col">Area affected</th>${priced ? markup`<th scope="col">Seed, in your money</th>` : null}</tr></thead><tbody>${totals.map((t) => row(VERDICT[t.verdict], t))}${row('All', sum)}</tbody></table></div>`;
}

/** Fields without a named planting whose planter has several: they wait, and come first. */
export function waitingPart(fields: readonly Done[]): Markup | null {
  const waiting = fields.filter((f) => f.row.waits.length > 0);
  if (waiting.length === 0) return null;
  const groups = groupBy(waiting, (f) => JSON.stringify([f.row.planter, f.row.waits]));
  return markup`<section aria-labelledby="waiting"><h2 id="waiting">Waiting for their planting</h2><p>A map that fits another planting than the one that was planted looks right and is wrong. Say what was planted: in the column "planting" of a list, or with "--planting NAME".</p><ul>${[
    ...groups.values(),
  ].map(
    (list) =>
      markup`<li><p>${`Planter "${list[0].row.planter}", planted ${list[0].row.waits.map((w) => `"${w}"`).join(' or ')}: ${count(list.length)}`}</p>${names(list.map((f) => f.name))}</li>`,
  )}</ul></section>`;
}

const count = (n: number): string => `${grouped(n, 0)} ${n === 1 ? 'field' : 'fields'}`;
const names = (list: readonly string[]) =>
  markup`<details><summary>${count(list.length)}</summary><p>${list.join(', ')}</p></details>`;

export function stretchPart(list: readonly Stretch[]): Markup | null {
  if (list.length === 0) return null;
  return markup`<section aria-labelledby="when"><h2 id="when">When a setting went wrong</h2><ul class="stretches">${list.map(
    (s) =>
      markup`<li><p>${s.says}</p><p>${s.sums}</p>${names(s.fields)}${
        s.rebuild.length === 0
          ? null
          : markup`<details><summary>${`Commands that rebuild ${count(s.rebuild.length)}`}</summary><pre>${s.rebuild.join('\n')}</pre></details>`
      }</li>`,
  )}</ul></section>`;
}

export function flipPart(list: readonly Flip[]): Markup | null {
  if (list.length === 0) return null;
  return markup`<section aria-labelledby="flips"><h2 id="flips">Plantings as the displays recorded them</h2><ul>${list.map((f) => markup`<li>${f.says}</li>`)}</ul></section>`;
}

export function leftPart({ leftAlone }: Season): Markup | null {
  if (leftAlone.length === 0) return null;
  const most = 200;
  return markup`<section aria-labelledby="left"><h2 id="left">Files that were not recognized as maps</h2><ul>${leftAlone
    .slice(0, most)
    .map(
      (f) => markup`<li>${f.name}: ${f.why}</li>`,
    )}</ul>${leftAlone.length > most ? markup`<p>${`${grouped(leftAlone.length - most, 0)} more are in findings.json.`}</p>` : null}</section>`;
}
