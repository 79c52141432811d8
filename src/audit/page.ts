import { createHash } from 'node:crypto';
import { areaText } from '../core/planter/units.ts';
import { grouped, SETTING_TITLE } from '../core/report/index.ts';
import { Markup, markup } from '../core/report/markup.ts';
import { dayText } from '../core/shared/dates.ts';
import { CAUTIONS } from '../core/shared/messages.ts';
import { calendar } from './calendar.ts';
import type { Season, Week } from './group.ts';
import { PAGE_SCRIPT, PAGE_STYLE } from './page-style.ts';
import { flipPart, leftPart, moneyText, stretchPart, totalsPart, waitingPart } from './parts.ts';
import { type Done, type Outcome, PICTURE, type Picture, VERDICT } from './types.ts';

/** Most fields that the page lists: a browser grows slow beyond. The tables hold all of them. */
const MOST_ROWS = 5000;

/** The audit as one HTML file that contacts no other machine and runs no script but its own. */
export function indexPage(a: Season): string {
  const shown = a.fields.slice(0, MOST_ROWS);
  const policy = `default-src 'none'; style-src ${hashOf(PAGE_STYLE)}; script-src ${hashOf(PAGE_SCRIPT)}; base-uri 'none'; form-action 'none'`;
  const settings = [...new Set(a.fields.flatMap((f) => f.row.settings))].sort();
  const machines = [...new Set(a.fields.map((f) => f.machine).filter((m) => m !== ''))].sort();
  const option = (value: string, text: string) => markup`<option value="${value}">${text}</option>`;
  const verdicts = (Object.keys(VERDICT) as Outcome[]).filter((v) => a.count[v] > 0);
  const head = (title: string, sort: string) =>
    markup`<th scope="col"${new Markup(sort === 'affected' ? ' aria-sort="descending"' : '')}><button type="button" data-sort="${sort}">${title}</button></th>`;
  const page = markup`<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="${policy}">
<meta name="viewport" content="width=device-width">
<meta name="referrer" content="no-referrer">
<title>Guessrow: ${grouped(a.fields.length, 0)} fields</title>
<style>${new Markup(PAGE_STYLE)}</style>
</head>
<body>
<a class="skip" href="#fields">To the fields</a>
<main class="sheet">
<h1>Fields against their planters</h1>
<p class="count">${countLine(a.fields.length, a.count)}</p>
${a.open === 0 ? null : markup`<p>This is the audit so far: ${`${grouped(a.open, 0)} more ${a.open === 1 ? 'field is' : 'fields are'}`} open. Load the page again for what is done since.</p>`}
${totalsPart(a.fields)}
${waitingPart(a.fields)}
${stretchPart(a.stretches)}
${flipPart(a.flips)}
${calendarPart(a.fields)}
${deadPart(a.fields)}
<section aria-labelledby="fields">
<h2 id="fields" tabindex="-1">Fields, the worst first</h2>
<p>Area affected is ground left without rows plus ground planted twice. ${
    shown.length < a.fields.length
      ? `The ${grouped(shown.length, 0)} worst fields are listed; all ${grouped(a.fields.length, 0)} are in fields.csv.`
      : 'The same table is in fields.csv, fields.jsonl and fields.parquet.'
  } In the pictures red is what a setting did, violet what is open, and gray what is harmless.</p>
<div class="filters" role="search" aria-label="Filter the fields">
<label>Find <input id="find" type="search" autocomplete="off"></label>
<label>Verdict <select id="verdict">${option('', 'all')}${verdicts.map((v) => option(v, VERDICT[v]))}</select></label>
<label>Setting <select id="setting">${option('', 'all')}${settings.map((s) => option(s, SETTING_TITLE[s]))}</select></label>
<label>Machine <select id="machine">${option('', 'all')}${machines.map((m) => option(m, m))}</select></label>
<output id="shown" aria-live="polite">${`${grouped(shown.length, 0)} fields`}</output>
</div>
<div class="scroll" role="region" aria-label="Table of fields" tabindex="0">
<table id="table">
<thead><tr><th scope="col">Picture</th>${head('Field', 'name')}${head('Verdict', 'verdict')}${head('Ground', 'ground')}${head('Area affected', 'affected')}${head('Count off', 'count')}${head('Machine and planter', 'machine')}${head('Day', 'day')}</tr></thead>
<tbody>
${shown.map(rowOf)}
</tbody>
</table>
</div>
</section>
${weekPart(a.weeks)}
${leftPart(a)}
<section class="cautions" aria-labelledby="cautions"><h2 id="cautions">Before you act on this</h2><ul>${CAUTIONS.map((c) => markup`<li>${c}</li>`)}</ul></section>
</main>
<script>${new Markup(PAGE_SCRIPT)}</script>
</body>
</html>
`;
  return page.text;
}

/** "500 fields: 61 differ, 400 agree, ..." */
export function countLine(fields: number, count: Readonly<Record<Outcome, number>>): string {
  const parts = [
    [count.differs, count.differs === 1 ? 'differs' : 'differ'],
    [count.agrees, count.agrees === 1 ? 'agrees' : 'agree'],
    [count.undecided, count.undecided === 1 ? 'is undecided' : 'are undecided'],
    [count['not checked'], 'could not be checked'],
  ] as const;
  const said = parts.filter(([n]) => n > 0).map(([n, word]) => `${grouped(n, 0)} ${word}`);
  return `${grouped(fields, 0)} ${fields === 1 ? 'field' : 'fields'}: ${said.join(', ')}.`;
}

function calendarPart(fields: readonly Done[]) {
  const strip = calendar(fields);
  return strip === null
    ? null
    : markup`<section aria-labelledby="calendar"><h2 id="calendar">The season, by machine</h2>${strip}</section>`;
}

function deadPart(fields: readonly Done[]) {
  const dead = fields.filter((f) => f.dead);
  if (dead.length === 0) return null;
  return markup`<section aria-labelledby="dead"><h2 id="dead">Given up</h2><p>No worker could finish these fields. Start the audit again to try them again.</p><ul>${dead.map(
    (f) => markup`<li><strong>${f.name}</strong>: ${f.row.says}</li>`,
  )}</ul></section>`;
}

function rowOf(f: Done): Markup {
  const { row } = f;
  const text = f.reports.find((r) => r.endsWith('.html')) ?? f.reports.find((r) => r.endsWith('.txt'));
  const name = text === undefined ? markup`${f.name}` : markup`<a href="${text}">${f.name}</a>`;
  const settings = row.settings.map((s) => SETTING_TITLE[s]).join(', ');
  const why = row.verdict === 'undecided' || row.verdict === 'not checked' ? row.says : settings;
  const count = row.acreCountPct === null ? '' : `${row.acreCountPct > 0 ? '+' : ''}${row.acreCountPct.toFixed(1)} %`;
  const who = [f.machine, row.planter, row.planting === '' ? '' : `planting "${row.planting}"`].filter((s) => s !== '');
  return markup`<tr data-name="${f.name}" data-verdict="${row.verdict}" data-affected="${row.affectedM2.toFixed(2)}" data-ground="${row.coveredM2.toFixed(2)}" data-count="${Math.abs(row.acreCountPct ?? 0).toFixed(3)}" data-settings="${row.settings.join(' ')}" data-machine="${f.machine}" data-day="${String(row.firstMs ?? '')}"><td>${f.picture ? svgOf(f.picture, f.name) : null}</td><th scope="row">${name}${f.sameAs === null ? null : markup`<small>the same files as ${f.sameAs}</small>`}</th><td><span class="verdict ${row.verdict.replace(' ', '-')}">${VERDICT[row.verdict]}</span><small>${why}</small>${row.next === '' ? null : markup`<small><b>Next:</b> ${row.next.split(/(?<=\.)\s/, 1)[0]}</small>`}</td><td class="number">${row.coveredM2 > 0 ? areaText(row.coveredM2, row.unit) : ''}</td><td class="number">${row.affectedM2 > 0 ? areaText(row.affectedM2, row.unit) : ''}${row.cost === null || row.affectedM2 === 0 ? null : markup`<small>${`seed ${moneyText(row.cost)}`}</small>`}</td><td class="number">${count}</td><td>${who.map((w) => markup`<small>${w}</small>`)}</td><td>${row.firstMs === null ? '' : dayText(row.firstMs)}</td></tr>
`;
}

/** The numbers of a picture as lines; anything but a number within the picture is left out. */
function svgOf(p: Picture, name: string): Markup {
  const fine = (v: unknown): v is number => typeof v === 'number' && v >= -PICTURE && v <= 2 * PICTURE;
  const path = (lines: unknown, close: string): string =>
    (Array.isArray(lines) ? lines : [])
      .filter((l): l is number[] => Array.isArray(l) && l.length >= 4 && l.every(fine))
      .map((l) => `M${l.join(' ')}${close}`)
      .join('');
  const draw = (kind: keyof Picture, close: string) => {
    const d = path(p[kind], close);
    return d === '' ? null : markup`<path class="${kind}" d="${d}"/>`;
  };
  return markup`<svg viewBox="0 0 ${PICTURE} ${PICTURE}" role="img" aria-label="${`Outline of ${name}, north up`}">${draw('covered', 'Z')}${draw('tracks', '')}${draw('harmless', 'Z')}${draw('open', 'Z')}${draw('setting', 'Z')}</svg>`;
}

function weekPart(weeks: readonly Week[]) {
  if (weeks.length === 0) return null;
  const n = (v: number) => markup`<td class="number">${v === 0 ? '' : grouped(v, 0)}</td>`;
  return markup`<section aria-labelledby="weeks"><h2 id="weeks">By machine, planter and week</h2><div class="scroll" role="region" aria-label="Table of weeks" tabindex="0"><table><thead><tr><th scope="col">Machine</th><th scope="col">Planter</th><th scope="col">Week from</th><th scope="col">Fields</th><th scope="col">Differ</th><th scope="col">Agree</th><th scope="col">Undecided</th><th scope="col">Not checked</th><th scope="col">Settings</th></tr></thead><tbody>${weeks
    .slice(0, MOST_ROWS)
    .map(
      (w) =>
        markup`<tr><td>${w.machine}</td><td>${w.planter}</td><td>${w.mondayMs === null ? 'no times' : dayText(w.mondayMs)}</td>${n(w.fields)}${n(w.differ)}${n(w.agree)}${n(w.undecided)}${n(w.notChecked)}<td>${w.settings.map((s) => SETTING_TITLE[s]).join(', ')}</td></tr>`,
    )}</tbody></table></div></section>`;
}

function hashOf(text: string): string {
  return `'sha256-${createHash('sha256').update(text, 'utf8').digest('base64')}'`;
}
