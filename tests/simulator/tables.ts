/** Outcomes as Markdown tables. Every share has its count beside it. */
import type { Outcome } from './outcome.ts';

type Row = Record<string, string>;

const share = (k: number, n: number): string => (n === 0 ? '-' : `${k}/${n} (${((100 * k) / n).toFixed(1)} %)`);

function table(rows: readonly Row[]): string {
  if (rows.length === 0) return '';
  const heads = Object.keys(rows[0]);
  return [
    `| ${heads.join(' | ')} |`,
    `|${heads.map(() => '---|').join('')}`,
    ...rows.map((r) => `| ${heads.map((h) => r[h]).join(' | ')} |`),
    '',
  ].join('\n');
}

/** Maps with one fault or more that shows. */
const telling = (o: Outcome): boolean => o.faults.some((f) => f.shows === 'yes');

function line(name: string, list: readonly Outcome[]): Row {
  const healthy = list.filter((o) => o.healthy && o.verdict !== 'refused');
  const shown = list.filter(telling);
  const pairs = shown.filter((o) => o.faults.filter((f) => f.shows === 'yes').length > 1);
  return {
    kind: name,
    maps: String(list.length),
    'first name fits': share(shown.filter((o) => o.firstFits).length, shown.length),
    'found, of two': share(
      pairs.filter((o) => o.found.every((f, i) => f || o.faults[i].shows !== 'yes')).length,
      pairs.length,
    ),
    'healthy blamed': share(healthy.filter((o) => o.extra.length > 0).length, healthy.length),
    'healthy undecided': share(healthy.filter((o) => o.verdict === 'undecided').length, healthy.length),
    'extra setting': share(
      list.filter((o) => o.faults.length > 0 && o.extra.length > 0).length,
      list.filter((o) => o.faults.length > 0).length,
    ),
    'fault, agrees': share(
      list.filter((o) => !o.verdictFits && o.verdict === 'agrees').length,
      list.filter((o) => o.faults.some((f) => f.shows !== 'no')).length,
    ),
    'refused or broken': String(list.filter((o) => o.error !== null).length),
  };
}

function bySetting(outcomes: readonly Outcome[]): Row[] {
  const settings = [...new Set(outcomes.flatMap((o) => o.faults.map((f) => f.setting)))].sort();
  return settings.map((setting) => {
    const with_ = outcomes.filter((o) => o.faults.some((f) => f.setting === setting));
    const shown = with_.filter((o) => o.faults.some((f) => f.setting === setting && f.shows === 'yes'));
    const alone = shown.filter((o) => o.faults.length === 1);
    const found = shown.filter((o) => o.found[o.faults.findIndex((f) => f.setting === setting)]);
    return {
      setting,
      maps: String(with_.length),
      shows: String(shown.length),
      found: share(found.length, shown.length),
      'alone: first name fits': share(alone.filter((o) => o.firstFits).length, alone.length),
      'missed: verdict': share(
        shown.filter((o) => !found.includes(o) && o.verdict === 'undecided').length,
        shown.length - found.length,
      ),
      extra: share(with_.filter((o) => o.extra.length > 0).length, with_.length),
    };
  });
}

function falseNames(outcomes: readonly Outcome[]): Row[] {
  const names = [...new Set(outcomes.flatMap((o) => o.extra))].sort();
  return names.map((name) => ({
    'named and not there': name,
    'in healthy maps': String(outcomes.filter((o) => o.healthy && o.extra.includes(name)).length),
    'beside a fault': String(outcomes.filter((o) => !o.healthy && o.extra.includes(name)).length),
  }));
}

const BINS: readonly [number, number][] = [
  [0, 0.5],
  [0.5, 0.7],
  [0.7, 0.9],
  [0.9, 0.97],
  [0.97, 0.99],
  [0.99, 1.0001],
];

function reliability(outcomes: readonly Outcome[]): Row[] {
  const all = outcomes.flatMap((o) => o.named);
  return BINS.map(([low, high]) => {
    const there = all.filter((d) => d.confidence >= low && d.confidence < high);
    const mean = there.reduce((sum, d) => sum + d.confidence, 0) / there.length;
    return {
      confidence: `${low} to ${Math.min(1, high)}`,
      named: String(there.length),
      'said, mean': there.length > 0 ? mean.toFixed(3) : '-',
      right: share(there.filter((d) => d.right).length, there.length),
    };
  });
}

function intervals(outcomes: readonly Outcome[]): Row[] {
  const names = [...new Set(outcomes.flatMap((o) => o.intervals.map((i) => i.of)))];
  const kinds = [...new Set(outcomes.map((o) => o.kind))];
  return names.flatMap((of) =>
    [null, ...kinds].map((kind) => {
      const list = outcomes
        .filter((o) => kind === null || o.kind === kind)
        .flatMap((o) => o.intervals.filter((i) => i.of === of));
      return {
        interval: of,
        kind: kind ?? 'all',
        'holds the value': share(list.filter((i) => i.low <= i.value && i.value <= i.high).length, list.length),
        'half width, median':
          list.length > 0 ? `${(median(list.map((i) => (i.high - i.low) / 2)) * 1000).toFixed(1)} mm` : '-',
      };
    }),
  );
}

/** Gaps beside closing by GEOS, and whether the lines of the account add up. */
function grounds(outcomes: readonly Outcome[]): Row[] {
  const kinds = [...new Set(outcomes.map((o) => o.kind))].sort();
  const rows = [...kinds.map((k) => outcomes.filter((o) => o.kind === k)), outcomes].map((list, i) => {
    const with_ = list.filter((o) => o.gapsM2 !== null);
    const near = with_.filter((o) => Math.abs(o.gapsM2!.reported - o.gapsM2!.closed) < 0.05 * o.gapsM2!.closed + 10);
    const open = with_.filter((o) => o.gapsM2!.longStrips > 20);
    return {
      kind: kinds[i] ?? 'all',
      'account adds up': share(list.filter((o) => o.accountOffM2 < 0.01).length, list.length),
      'gaps within 5 % and 10 m² of closing': share(near.length, with_.length),
      'over 20 m² of long strips': String(open.length),
      'of these called agrees': share(open.filter((o) => o.verdict === 'agrees').length, open.length),
    };
  });
  return rows;
}

const median = (list: number[]): number => list.sort((a, b) => a - b)[Math.floor(list.length / 2)];

function misses(outcomes: readonly Outcome[]): string {
  const bad = outcomes.filter(
    (o) =>
      o.error !== null ||
      (telling(o) && !o.firstFits) ||
      o.extra.length > 0 ||
      !o.verdictFits ||
      o.faults.some((f, i) => f.shows === 'yes' && !o.found[i]),
  );
  const text = (o: Outcome): string =>
    `- ${o.seed} ${o.kind}: ${o.faults.map((f) => `${f.setting}[${f.shows}]`).join(' + ') || (o.healthy ? 'healthy' : 'two plantings')} -> ${o.verdict} ${o.named.map((d) => `${d.setting} ${d.confidence.toFixed(2)}`).join(', ')}${o.error ? ` ERROR ${o.error.split('\n')[0]}` : ''}`;
  return bad.length === 0
    ? ''
    : `\nMaps to look at (npm run calibrate -- --map SEED, with the same --only and --setting):\n${bad.map(text).join('\n')}\n`;
}

export function tables(outcomes: readonly Outcome[], title: string): string {
  const kinds = [...new Set(outcomes.map((o) => o.kind))].sort();
  const rows = [
    ...kinds.map((k) =>
      line(
        k,
        outcomes.filter((o) => o.kind === k),
      ),
    ),
    line('all', outcomes),
  ];
  const ms = outcomes.reduce((sum, o) => sum + o.ms, 0) / outcomes.length;
  return [
    `# Calibration: ${title}\n`,
    table(rows),
    table(bySetting(outcomes)),
    table(falseNames(outcomes)),
    table(reliability(outcomes)),
    table(intervals(outcomes)),
    table(grounds(outcomes)),
    `A check took ${(ms / 1000).toFixed(2)} s on average.`,
    misses(outcomes),
  ].join('\n');
}
