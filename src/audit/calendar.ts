/** The season as a strip for each machine: days across, and a mark for every field by its verdict. The tables hold the exact days. */

import { type Markup, markup } from '../core/report/markup.ts';
import { dayText, shortDay } from '../core/shared/dates.ts';

import type { Done, Outcome } from './types.ts';

const DAY_MS = 86_400_000;
/** Widest strip, and the room for the names of machines. Pixels, as in the rest. */
const WIDE = 900;
const NAMES = 170;
const HIGH = 34;
const TOP = 30;
/** Most machines that are drawn; more are in the table of weeks. */
const MOST = 40;
const MOST_DAYS = 400;

const KIND: Readonly<Record<Outcome, string>> = {
  differs: 'c-differs',
  undecided: 'c-undecided',
  'not checked': 'c-undecided',
  agrees: 'c-agrees',
};

/** The picture, or null where no field carries a time, or the days lie further apart than a strip can show. */
export function calendar(fields: readonly Done[]): Markup | null {
  const timed = fields.filter((f) => f.sameAs === null && f.row.firstMs !== null && f.row.lastMs !== null);
  if (timed.length === 0) return null;
  const first = Math.floor(Math.min(...timed.map((f) => f.row.firstMs!)) / DAY_MS);
  const days = Math.floor(Math.max(...timed.map((f) => f.row.lastMs!)) / DAY_MS) + 1 - first;
  if (days > MOST_DAYS) return null;
  const machines = [...new Set(timed.map((f) => f.machine))].sort();
  const shown = machines.slice(0, MOST);
  const perDay = Math.min(60, (WIDE - NAMES - 10) / days);
  const x = (ms: number): number => NAMES + (ms / DAY_MS - first) * perDay;
  const width = Math.ceil(NAMES + days * perDay + 10);
  const height = TOP + shown.length * HIGH + 6;
  const every = Math.ceil(34 / perDay);
  const ticks = Array.from({ length: Math.ceil(days / every) }, (_, i) => first + i * every);
  const rows = shown.map((machine, row) => {
    const y = TOP + row * HIGH;
    const mine = timed
      .filter((f) => f.machine === machine)
      .sort((a, b) => a.row.firstMs! - b.row.firstMs! || (a.name < b.name ? -1 : 1));
    const marks = mine.map((f) => {
      const from = x(f.row.firstMs!);
      const wide = Math.max(5, x(f.row.lastMs!) - from);
      const what = `${f.name}, ${dayText(f.row.firstMs!)}: ${f.row.verdict}`;
      // Fields that differ are marked by height too, not by color alone.
      const [top, high] = f.row.verdict === 'differs' ? [y + 3, HIGH - 8] : [y + 9, HIGH - 20];
      return markup`<rect class="${KIND[f.row.verdict]}" x="${from}" y="${top}" width="${wide}" height="${high}"><title>${what}</title></rect>`;
    });
    const name = machine === '' ? 'no machine named' : machine;
    return markup`<text x="${NAMES - 8}" y="${y + HIGH / 2 + 4}" text-anchor="end">${name.length > 22 ? `${name.slice(0, 21)}…` : name}</text><path class="c-line" d="M${NAMES} ${y + HIGH - 3}H${width - 10}"/>${marks}`;
  });
  const label = `Fields by machine and day, ${dayText(first * DAY_MS)} to ${dayText((first + days - 1) * DAY_MS)}; the table of weeks says the same.`;
  const left = machines.length - shown.length;
  return markup`<div class="scroll" role="region" aria-label="Calendar by machine" tabindex="0"><svg class="calendar" viewBox="0 0 ${width} ${height}" width="${width}" height="${height}" role="img" aria-label="${label}">${ticks.map(
    (d) =>
      markup`<path class="c-line" d="M${x(d * DAY_MS)} ${TOP - 6}V${height - 6}"/><text x="${x(d * DAY_MS) + 2}" y="${TOP - 10}">${shortDay(d * DAY_MS)}</text>`,
  )}${rows}</svg></div><p><span class="key c-differs"></span> differs <span class="key c-agrees"></span> agrees <span class="key c-undecided"></span> undecided or not checked${left > 0 ? `; ${left} more machines are in the table of weeks` : ''}</p>`;
}

/** Style of the strip, for the page. */
export const CALENDAR_STYLE = `
svg.calendar{width:auto;height:auto;max-width:none;background:var(--inset)}
.calendar text{font-size:12px;fill:var(--ink)}
.calendar .c-line{stroke:var(--rule);stroke-width:1}
.c-differs{fill:var(--red);background:var(--red)}
.c-agrees{fill:var(--blue);background:var(--blue)}
.c-undecided{fill:var(--paper);background:var(--paper);stroke:var(--quiet);outline:1px solid var(--quiet)}
.key{display:inline-block;width:.9rem;height:.9rem;margin:0 .3rem 0 1rem;vertical-align:-.1rem}
`;
