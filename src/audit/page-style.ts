import { CALENDAR_STYLE } from './calendar.ts';

/** How the index looks: the sheet's paper, ink and pencil. Text keeps a contrast of 4.5 to 1 on its ground, in light and in dark. */
export const PAGE_STYLE = `
:root{color-scheme:light dark;--desk:#e7e1d4;--paper:#fbf8f1;--inset:#f3eee2;--ink:#22262b;--quiet:#54585d;--rule:#cdc4b1;--red:#a8320d;--red-wash:#f8e3d8;--blue:#28557f;--ground:#c9d8e5;--lap:#5b2a86}
@media (prefers-color-scheme:dark){:root{--desk:#0e1113;--paper:#191d21;--inset:#21262b;--ink:#ece7db;--quiet:#b5b2a8;--rule:#434a50;--red:#ff9a6e;--red-wash:#3a231a;--blue:#93c2ee;--ground:#2b4259;--lap:#caa6ff}}
*{box-sizing:border-box}
html{background:var(--desk);color:var(--ink);font:17px/1.5 system-ui,-apple-system,"Segoe UI","Liberation Sans",Arial,sans-serif;-webkit-text-size-adjust:100%;text-size-adjust:100%}
body{margin:0}
.sheet{max-width:78rem;margin:1.5rem auto 3rem;padding:1.8rem 2.4rem;background:var(--paper);border:1px solid var(--rule)}
h1,h2,.count{font-family:ui-serif,Charter,"Iowan Old Style","Palatino Linotype",Georgia,serif}
h1{margin:0;font-size:1.7rem;line-height:1.2;padding-bottom:.7rem;border-bottom:3px solid var(--ink)}
h2{margin:2rem 0 .7rem;padding-bottom:.25rem;border-bottom:1px solid var(--rule);font-size:1.35rem}
.count{font-size:1.25rem}
p,li{max-width:80ch;overflow-wrap:anywhere}
a{color:var(--blue)}
.skip{position:absolute;left:1rem;top:-4rem;padding:.4rem .8rem;background:var(--ink);color:var(--paper)}
.skip:focus{top:.5rem}
:focus-visible{outline:3px solid var(--blue);outline-offset:2px}
.stretches li{margin:.7rem 0;padding-left:.8rem;border-left:4px solid var(--red);list-style:none}
.stretches{padding:0}
.stretches p{margin:.2rem 0}
.filters{display:flex;flex-wrap:wrap;gap:.8rem 1.4rem;align-items:end;margin:1rem 0}
.filters label{display:grid;gap:.2rem}
input,select{font:inherit;min-height:2.6rem;padding:.3rem .5rem;color:var(--ink);background:var(--paper);border:1px solid var(--quiet);max-width:18rem}
output{font-weight:700;padding-bottom:.5rem}
.scroll{overflow-x:auto}
table{border-collapse:collapse;width:100%}
th,td{padding:.5rem .7rem;text-align:left;vertical-align:top;border-bottom:1px solid var(--rule)}
tbody th{font-weight:600;overflow-wrap:anywhere;min-width:9rem}
thead th{background:var(--inset);white-space:nowrap;vertical-align:middle}
thead button{font:inherit;font-weight:700;color:var(--ink);background:none;border:0;padding:.5rem 0;min-height:2.6rem;cursor:pointer;text-decoration:underline;text-underline-offset:.2em}
[aria-sort=ascending] button::after{content:" \\25B2"}
[aria-sort=descending] button::after{content:" \\25BC"}
.number{text-align:right;font-variant-numeric:tabular-nums;white-space:nowrap}
small{display:block;font-size:.88rem;color:var(--quiet);max-width:44ch;overflow-wrap:anywhere}
.verdict{font-weight:700;padding:.1rem .5rem;border:2px solid;display:inline-block;white-space:nowrap}
.differs{color:var(--red);border-style:double;border-width:4px}
.undecided{border-style:dashed}
.not-checked{border-style:dotted}
svg{display:block;width:7rem;height:7rem;background:var(--inset)}
svg path{fill:none;vector-effect:non-scaling-stroke}
svg .covered{fill:var(--ground);fill-rule:evenodd}
svg .tracks{stroke:var(--blue);stroke-width:.7;opacity:.6}
svg .harmless{fill:var(--quiet);fill-opacity:.35}
svg .open{fill:var(--lap);stroke:var(--lap);stroke-width:.7}
svg .setting{fill:var(--red);stroke:var(--red);stroke-width:.9}
.cautions{border:2px solid var(--ink);background:var(--inset);padding:.2rem 1rem;margin-top:2rem}
.cautions h2{margin-top:.8rem;border:0}
pre{overflow-x:auto;padding:.6rem .8rem;background:var(--inset);font-size:.88rem}
.totals{width:auto}${CALENDAR_STYLE}@media (max-width:40rem){.sheet{margin:0;padding:1rem;border:0}}
@media print{.filters,.skip{display:none}html,.sheet{background:#fff;border:0}}
`;

/** Filters and sorts the rows of the table. Reads the page's own attributes and writes no markup. */
export const PAGE_SCRIPT = `
'use strict';
(() => {
  const body = document.querySelector('#table tbody');
  const rows = [...body.rows];
  const by = (id) => document.getElementById(id);
  const texts = rows.map((r) => r.textContent.toLowerCase());
  const filter = () => {
    const find = by('find').value.trim().toLowerCase();
    const verdict = by('verdict').value, setting = by('setting').value, machine = by('machine').value;
    let n = 0;
    rows.forEach((r, i) => {
      const d = r.dataset;
      const keep = texts[i].includes(find) && (!verdict || d.verdict === verdict) && (!setting || d.settings.split(' ').includes(setting)) && (!machine || d.machine === machine);
      r.hidden = !keep;
      if (keep) n++;
    });
    by('shown').textContent = n + (n === 1 ? ' field' : ' fields');
  };
  for (const id of ['find', 'verdict', 'setting', 'machine']) by(id).addEventListener('input', filter);
  const numbers = new Set(['affected', 'ground', 'count', 'day']);
  for (const button of document.querySelectorAll('button[data-sort]')) {
    button.addEventListener('click', () => {
      const th = button.closest('th'), key = button.dataset.sort;
      const was = th.getAttribute('aria-sort');
      const up = was === 'descending' || (was === null && !numbers.has(key));
      for (const other of document.querySelectorAll('th[aria-sort]')) other.removeAttribute('aria-sort');
      th.setAttribute('aria-sort', up ? 'ascending' : 'descending');
      const value = (r) => (numbers.has(key) ? Number(r.dataset[key] || -1) : r.dataset[key]);
      const order = rows.map((r, i) => [value(r), i, r]).sort((a, b) => (a[0] < b[0] ? -1 : a[0] > b[0] ? 1 : 0) * (up ? 1 : -1) || a[1] - b[1]);
      body.append(...order.map((o) => o[2]));
    });
  }
})();
`;
