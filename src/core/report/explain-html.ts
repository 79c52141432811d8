import { CAUTIONS } from '../shared/messages.ts';
import { EXPLANATION_PARTS, EXPLANATIONS } from './explain.ts';
import { htmlPage } from './html.ts';
import { markup } from './markup.ts';

/** Every setting that a diagnosis can name, as one page; each can be reached by its name, `#row-spacing`. */
export function explainHtml(styleFile?: string): string {
  return htmlPage(
    'Guessrow: what each setting is',
    markup`<header><h1>What each setting is, and how it goes wrong</h1>
<p>Every setting that a diagnosis can name, in the order in which they are corrected.</p></header>
<main>
<nav aria-label="Settings"><ul>${EXPLANATIONS.map((e) => markup`<li><a href="#${e.setting}">${e.title}</a></li>`)}</ul></nav>
<h2>Before you act on any of this</h2>
<ul class="cautions">${CAUTIONS.map((c) => markup`<li>${c}</li>`)}</ul>
${EXPLANATIONS.map(
  (e) => markup`<section class="setting" id="${e.setting}"><h2>${e.title}</h2><dl>${EXPLANATION_PARTS.map(
    ([key, title]) => markup`<dt>${title}</dt><dd>${e[key]}</dd>`,
  )}<dt>In a report</dt><dd>${e.setting}</dd></dl></section>
`,
)}</main>`,
    styleFile,
  );
}
