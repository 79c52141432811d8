import type { Answer, Diagnosis, Evidence, Report } from '../answer.ts';
import { planterNotes } from '../planter/index.ts';
import type { Planter, Unit } from '../planter/types.ts';
import { clockText } from '../shared/dates.ts';
import { drawn, FieldAbove, Frame, SeamChart, TimeLine, TwoRulers } from './draw/index.ts';
import { effectLines, NO_EFFECT } from './effect.ts';
import {
  ACCOUNT_TITLE,
  accountRows,
  areaCheck,
  areaRows,
  becauseLines,
  type Entry,
  layoutEntries,
  MACHINE_HEAD,
  machineRows,
  mapEntries,
  NO_SEAMS,
  noteText,
  otherObservations,
  seamEntries,
  verdictSentence,
} from './entries.ts';
import { frameSentences, plantingCells, sectionCells } from './frame.ts';
import { HTML_STYLE } from './html-style.ts';
import { confidenceText, SETTING_TITLE, VERDICT_WORDS } from './labels.ts';
import { Markup, markup } from './markup.ts';
import { countText, distanceText, gapText, lengthOr, signedGap } from './numbers.ts';
import { timeSeries } from './series.ts';

export interface HtmlOptions {
  /** The command line that gives the same answer; left out, the report does not name one. */
  command?: string;
}

/** Width of a drawing on A4 or Letter, pixels. */
const PAPER = 740;

/** Passes in the table; a larger map says how many were left out. */
const MOST_PASSES = 300;

/**
 * The answer as one self-contained HTML file: no script, no address, pictures as SVG. Text from a map or planter
 * file stays text. The same answer gives the same bytes.
 */
export function htmlReport(answer: Answer, options: HtmlOptions = {}): string {
  const { report: r, planter, evidence } = answer;
  const { unit } = planter;
  const seams = seamEntries(r, unit);
  const also = otherObservations(r);
  const machines = machineRows(r, unit);
  return htmlPage(
    `Guessrow: ${r.map.source}`,
    markup`<header><h1>Guessrow check report</h1>
${facts([
  ['map', r.map.source],
  ['planter', r.declared.planter],
  ['planting', r.declared.planting],
])}</header>
<main>
<section class="stamp ${r.verdict}" aria-label="Verdict"><span class="word">${VERDICT_WORDS[r.verdict]}</span><p class="says">${verdictSentence(r)}</p></section>
${machines.length > 0 ? markup`<h2>Machines</h2>${table('Machines', MACHINE_HEAD, machines, [])}` : null}${r.wouldDecide.length > 0 ? markup`<h2>What would decide it</h2>${list(r.wouldDecide)}` : null}${r.diagnoses.length > 0 ? markup`<h2>What to look at, in this order</h2>${r.diagnoses.map((d, i) => diagnosis(d, i + 1, answer))}` : null}${accountPart(r)}<h2>Before you act on this</h2>
<ul class="cautions">${r.cautions.map((c) => markup`<li>${c}</li>`)}</ul>
<h2>Across the planter</h2>
${drawn(TwoRulers, { report: r, planter, width: PAPER })}${facts(layoutEntries(r, unit))}
<h2>The seams between passes</h2>
${seams.length > 0 ? facts(seams) : markup`<p>${NO_SEAMS}</p>`}${evidence.seams.length > 0 ? drawn(SeamChart, { answer, width: PAPER }) : null}
<h2>The field</h2>
${drawn(FieldAbove, { answer, width: PAPER })}${table('Areas', ['area', 'size', 'what it is'], areaRows(r, unit), [1])}${areaCheck(r) ? markup`<p>${areaCheck(r)}</p>` : null}
<h2>While it was planted</h2>
${drawn(TimeLine, { answer, series: timeSeries(evidence), width: PAPER })}${passTable(evidence, unit)}
${also.length > 0 ? markup`<h2>Also measured</h2>${list(also)}` : null}<h2>The planter as declared</h2>
${planterPart(answer, planter)}
<h2>The map that was read</h2>
${facts(mapEntries(r, unit))}
${r.notes.length > 0 ? markup`<h2>Notes</h2>${list(r.notes.map(noteText))}` : null}${options.command === undefined ? null : markup`<h2>Get the same answer again</h2><p>This command line, run where the files lie, gives the same answer:</p><code>${options.command}</code>`}
<footer>Made by Guessrow from recorded data. Assumed pass-to-pass accuracy: ${gapText(r.seams.accuracyM, unit)}.</footer>
</main>`,
  );
}

/**
 * A whole page around `body`. The policy keeps a browser from fetching or running anything, whatever the text holds. The style
 * is in the page; for a page served beside it, `styleFile` names a file of the same folder instead.
 */
export function htmlPage(title: string, body: Markup, styleFile?: string): string {
  const style =
    styleFile === undefined
      ? markup`<style>${new Markup(HTML_STYLE)}</style>`
      : markup`<link rel="stylesheet" href="./${styleFile}">`;
  return markup`<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src ${new Markup(styleFile === undefined ? "'unsafe-inline'" : "'self'")}; base-uri 'none'; form-action 'none'">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="referrer" content="no-referrer">
<title>${title}</title>
${style}
</head>
<body>
${body}
</body>
</html>
`.text;
}

/** Lines of the account on the page; the data formats hold all. */
const ACCOUNT_SHOWN = 20;

function accountPart(r: Report): Markup | null {
  const { shown, rest } = accountRows(r, ACCOUNT_SHOWN);
  if (shown.length === 0) return null;
  return markup`<h2>${ACCOUNT_TITLE}</h2>${list(shown.map((l) => l.says))}${rest === '' ? null : markup`<p class="quiet">${rest}</p>`}`;
}

function diagnosis(d: Diagnosis, n: number, { report, planter }: Answer): Markup {
  const effect = effectLines(d, report, planter.unit);
  const because = becauseLines(d, report);
  return markup`<section class="diagnosis"><h3>${n}. ${SETTING_TITLE[d.setting]}</h3><p>${d.says}</p><dl><dt>To confirm</dt><dd>${d.check}</dd><dt>How sure</dt><dd>${confidenceText(d.confidence)}</dd><dt>What it did</dt><dd>${effect.length > 0 ? effect.join(' ') : NO_EFFECT}</dd>${because.length > 0 ? markup`<dt>Because</dt><dd>${because.join(' ')}</dd>` : null}</dl></section>
`;
}

function planterPart({ report, ruleBreaks }: Answer, planter: Planter): Markup {
  const plantings = plantingCells(planter);
  const sections = sectionCells(planter, planter.plantings);
  const notes = planterNotes(planter).map((n) => `${n.sentence} ${n.todo}`);
  return markup`${drawn(Frame, { planter, planting: report.declared.planting, breaks: ruleBreaks, width: PAPER })}${
    ruleBreaks.length === 0
      ? markup`<p>The layout keeps every rule of a sound layout.</p>`
      : list(ruleBreaks.map((b) => `! ${b.says} ${b.todo}`))
  }${table('Plantings', plantings[0], plantings.slice(1), [])}${planter.sectionsDeclared ? table('Sections', sections[0], sections.slice(1), []) : markup`<p>No sections are declared: the whole frame counts as one.</p>`}${list([...frameSentences(planter), ...notes])}`;
}

function passTable({ passes, seams }: Evidence, unit: Unit): Markup | null {
  if (passes.length === 0) return null;
  const timed = passes.some((p) => p.startMs !== null);
  const head = ['pass', 'bars', 'length', 'heading', 'recorded width', 'seam recorded → planted'];
  const rows = passes.slice(0, MOST_PASSES).map((p) => {
    const mine = seams.filter((s) => s.passA === p.number || s.passB === p.number);
    const cells: (string | Markup)[] = [
      `${p.number}`,
      `${p.bars}`,
      distanceText(p.lengthM, unit),
      `${Math.round(p.headingDeg) % 360}°`,
      lengthOr(p.recordedWidthM, unit),
      mine.length === 0
        ? '—'
        : markup`${mine.map((s) => markup`<span>with ${s.passA === p.number ? s.passB : s.passA}: ${measured(s.recordedM, unit)} → ${measured(s.plantedM, unit)}</span>`)}`,
    ];
    return timed ? [...cells, p.startMs === null ? '' : clockText(p.startMs)] : cells;
  });
  const left = passes.length - rows.length;
  return markup`<h3>The passes</h3>${table('Passes', timed ? [...head, "start, map's clock"] : head, rows, [1, 2, 3, 4])}${left > 0 ? markup`<p class="quiet">${countText(left, 'more pass', 'more passes')}; "--format csv" lists all of them.</p>` : null}`;
}

function measured(m: number, unit: Unit): string {
  return Number.isFinite(m) ? signedGap(m, unit) : 'not known';
}

function table(
  name: string,
  head: readonly string[],
  rows: readonly (readonly (string | Markup)[])[],
  right: readonly number[],
): Markup {
  const kind = (i: number): Markup | null => (right.includes(i) ? markup` class="num"` : null);
  return markup`<div class="scroll" role="region" tabindex="0" aria-label="${name}"><table><thead><tr>${head.map((h, i) => markup`<th scope="col"${kind(i)}>${h}</th>`)}</tr></thead><tbody>
${rows.map((cells) => markup`<tr>${cells.map((c, i) => (i === 0 ? markup`<th scope="row">${c}</th>` : markup`<td${kind(i)}>${c}</td>`))}</tr>\n`)}</tbody></table></div>
`;
}

function facts(all: readonly Entry[]): Markup {
  return markup`<dl>${all.map(([word, text]) => markup`<dt>${word}</dt><dd>${text}</dd>`)}</dl>
`;
}

export function list(lines: readonly string[]): Markup | null {
  return lines.length === 0 ? null : markup`<ul>${lines.map((l) => markup`<li>${l}</li>`)}</ul>\n`;
}
