import type { Answer, Diagnosis, LayoutFit, Observation, Report, Role } from '../answer.ts';
import type { Unit } from '../planter/types.ts';
import { areaText, distanceText, gapText, grouped, lengthText, trim } from '../planter/units.ts';
import { effectLines } from './effect.ts';
import { clean, clip, NO_PAINT, type Paint, table, wrap } from './plain.ts';
import { rulerLines, rulersOf } from './rulers.ts';
import { confidenceText, GRAIN_WORDS, ROLE_WORDS, SETTING_TITLE, TRAVEL_WORDS, VERDICT_WORDS } from './words.ts';

export interface TextOptions {
  /** Marks for a terminal; plain text when left out. */
  colour?: Paint;
}

/** The answer to read, at most 100 columns wide: the verdict first, then what to look at, the bands, seams, areas and the map itself. */
export function toText(answer: Answer, options: TextOptions = {}): string {
  const paint = options.colour ?? NO_PAINT;
  const { report } = answer;
  const unit = answer.planter.unit;
  const blocks = [
    verdictLines(report, paint),
    ...report.diagnoses.map((d, i) => diagnosisLines(d, i + 1, report, unit, paint)),
    headed(
      'Across the planter, seen facing travel, each from the middle of its own width',
      rulerLines(rulersOf(report, unit)),
      paint,
    ),
    headed('Layout', layoutLines(report, unit), paint),
    headed('Seams between passes', seamLines(report, unit), paint),
    headed('Areas', areaLines(report, unit), paint),
    headed('The map', mapLines(report, unit), paint),
    headed('Also measured', otherObservations(report), paint),
    headed(
      'Notes',
      report.notes.flatMap((n) => wrap(noteText(n), undefined, '  - ', '    ')),
      paint,
    ),
    headed(
      'Before you act on this',
      report.cautions.flatMap((c) => wrap(c, undefined, '  - ', '    ')),
      paint,
    ),
  ];
  return `${blocks
    .filter((b) => b.length > 0)
    .map((b) => b.join('\n'))
    .join('\n\n')}\n`;
}

function headed(title: string, lines: string[], paint: Paint): string[] {
  return lines.length === 0 ? [] : [paint.bold(title), ...lines];
}

function verdictLines(r: Report, paint: Paint): string[] {
  const mark = { agrees: paint.green, differs: paint.red, undecided: paint.yellow }[r.verdict];
  const word = VERDICT_WORDS[r.verdict];
  const lines = wrap(`${word} ${sentence(r)}`).map((l, i) =>
    i === 0 ? paint.bold(mark(word)) + l.slice(word.length) : l,
  );
  const more = r.wouldDecide.flatMap((w) => wrap(w, undefined, '  - ', '    '));
  return more.length === 0 ? lines : [...lines, 'What would decide it:', ...more];
}

/** The verdict's sentence, without a verdict in front: that stands before it in capitals. */
function sentence(r: Report): string {
  const rest = r.says.replace(/^undecided:\s*/i, '');
  return rest === '' ? r.says : rest[0].toUpperCase() + rest.slice(1);
}

function diagnosisLines(d: Diagnosis, n: number, r: Report, unit: Unit, paint: Paint): string[] {
  const out = [paint.bold(`${n}. ${SETTING_TITLE[d.setting]}`) + paint.dim(` (${confidenceText(d.confidence)} sure)`)];
  const part = (word: string, text: string): void => {
    out.push(...wrap(text, undefined, `   ${word.padEnd(9)}`, ' '.repeat(12)));
  };
  part('Found', d.says);
  part('Confirm', d.check);
  const effect = effectLines(d, r, unit);
  if (effect.length > 0) part('Effect', effect.join(' '));
  becauseLines(d, r).forEach((text, i) => {
    part(i === 0 ? 'Because' : '', text);
  });
  return out;
}

/** The observations behind a diagnosis that it does not already say; of many of one kind the first three. */
function becauseLines(d: Diagnosis, r: Report): string[] {
  const found = d.because
    .flatMap((id) => r.observations.filter((o) => o.id === id))
    .filter((o) => !d.says.includes(o.says));
  const out: string[] = [];
  for (const kind of new Set(found.map((o) => o.kind))) {
    const like = found.filter((o) => o.kind === kind);
    const shown = like.length > 4 ? like.slice(0, 3) : like;
    out.push(...shown.map(observationText));
    if (shown.length < like.length) out.push(`And ${like.length - shown.length} more of this kind.`);
  }
  return out;
}

function observationText(o: Observation): string {
  const passes = o.passes.length === 0 ? '' : ` (${o.passes.length === 1 ? 'pass' : 'passes'} ${runsOf(o.passes)})`;
  return `${o.says.replace(/\.$/, '')}${passes}.`;
}

/** Rising numbers as "1-4, 7"; cut short after eight runs. */
function runsOf(numbers: readonly number[]): string {
  const parts: string[] = [];
  const sorted = [...numbers].sort((a, b) => a - b);
  for (let i = 0; i < sorted.length; ) {
    let j = i;
    while (j + 1 < sorted.length && sorted[j + 1] === sorted[j] + 1) j++;
    parts.push(j === i ? `${sorted[i]}` : `${sorted[i]}-${sorted[j]}`);
    i = j + 1;
  }
  return parts.length <= 8 ? parts.join(', ') : `${parts.slice(0, 8).join(', ')} and ${parts.length - 8} more runs`;
}

function layoutLines(r: Report, unit: Unit): string[] {
  const { declared: d, recorded: c } = r;
  const found = d.plantingFound ? ' (the planting that fits the map best)' : '';
  const off =
    Math.abs(d.centreM) < 1e-6
      ? ''
      : `, its middle ${gapText(Math.abs(d.centreM), unit)} ${d.centreM > 0 ? 'right' : 'left'} of the frame's centre`;
  const rows = (n: number): string => `${grouped(n, 0)} ${n === 1 ? 'row' : 'rows'}`;
  const out = [
    ...entry('planter', `${d.planter}, ${rows(d.frameRows)} at ${gapText(d.rowSpacingM, unit)} on the frame`),
    ...entry(
      'declared',
      `planting "${d.planting}"${found}: ${rows(d.plantedRows)} planted, working width ${lengthText(d.workingWidthM, unit)}${off}, pass spacing ${lengthText(d.passSpacingM, unit)}`,
    ),
  ];
  if (c.workingWidthM === null) return [...out, ...entry('recorded', 'no working width can be read from this map')];
  const ci = c.workingWidthCi95M;
  const sure = ci === null ? '' : `, give or take ${fineText((ci[1] - ci[0]) / 2, unit)} (95 % interval)`;
  const sections =
    c.sections.length === 0 ? '' : `, ${c.sections.length} ${c.sections.length === 1 ? 'section' : 'sections'}`;
  out.push(...entry('recorded', `working width ${lengthText(c.workingWidthM, unit)}${sure}${sections}`));
  if (c.bestFit) out.push(...entry('fits', fitText(c.bestFit, unit)));
  for (const a of c.alternatives.filter((x) => x.confidence >= 0.01)) out.push(...entry('or', fitText(a, unit)));
  return out;
}

function fitText(f: LayoutFit, unit: Unit): string {
  return `${f.rows} ${f.rows === 1 ? 'row' : 'rows'} at ${gapText(f.rowSpacingM, unit)}, planting "${f.planting}", ${confidenceText(f.confidence)} sure`;
}

/** A small length with enough figures to mean something. */
function fineText(m: number, unit: Unit): string {
  return unit === 'in' ? `${trim(m / 0.0254, 2)} in` : `${trim(m * 1000, 1)} mm`;
}

function seamLines(r: Report, unit: Unit): string[] {
  const s = r.seams;
  if (s.count === 0) return ['  No two neighbouring passes lie side by side in this map.'];
  const seam = (m: number): string =>
    gapText(Math.abs(m), unit).startsWith('0 ')
      ? 'closed'
      : `${m > 0 ? 'a gap of' : 'an overlap of'} ${gapText(Math.abs(m), unit)}`;
  const out = [...entry('seams', grouped(s.count, 0))];
  if (s.recordedM !== null) out.push(...entry('recorded', `${seam(s.recordedM)}, as the map shows it`));
  if (s.plantedM !== null)
    out.push(...entry('planted', `${seam(s.plantedM)}, as the declared planter left it on the ground`));
  if (s.guessRowM !== null)
    out.push(
      ...entry('guess row', `${gapText(s.guessRowM, unit)} from the last row of one pass to the first row of the next`),
    );
  if (s.alternatingM !== null && !gapText(Math.abs(s.alternatingM), unit).startsWith('0 '))
    out.push(
      ...entry(
        'alternate',
        `by ${gapText(Math.abs(s.alternatingM), unit)} either way, as if each pass sat to the ${s.alternatingM > 0 ? 'right' : 'left'} of its travel`,
      ),
    );
  return out;
}

function areaLines(r: Report, unit: Unit): string[] {
  const a = r.area;
  const rows = [
    ['recorded', areaText(a.recordedM2, unit), 'all records added up'],
    ['covered', areaText(a.coveredM2, unit), 'ground under at least one record'],
    ['overlap', areaText(a.overlapM2, unit), 'ground under two records or more, each spot once'],
    ['gaps', areaText(a.gapM2, unit), 'narrow ground that the map leaves open'],
    [
      'planted',
      a.plantedM2 === null ? 'not known' : areaText(a.plantedM2, unit),
      'what the declared planter covered along the same track',
    ],
  ];
  return [
    ...table(rows, '  ', [1]),
    ...entry(
      'check',
      `the areas agree with each other to ${a.residual === 0 ? 'the last figure' : `${a.residual.toExponential(0)} of the whole`}`,
    ),
  ];
}

function mapLines(r: Report, unit: Unit): string[] {
  const m = r.map;
  const kind = m.format === 'geojson' ? 'GeoJSON' : 'shapefile';
  const out = [
    ...entry('file', `${m.source} (${kind})`),
    ...entry(
      'records',
      `${grouped(m.records, 0)}, ${m.used === m.records ? 'all of them' : `of which ${grouped(m.used, 0)}`} used; a record is ${GRAIN_WORDS[m.grain]}`,
    ),
  ];
  for (const s of m.setAside)
    out.push(...entry('set aside', `${grouped(s.count, 0)}: ${s.reason} (first: record ${grouped(s.firstRecord, 0)})`));
  if (m.passes > 0)
    out.push(
      ...entry(
        'travel',
        `${grouped(m.passes, 0)} ${m.passes === 1 ? 'pass' : 'passes'}, ${distanceText(m.travelM, unit)}; direction ${TRAVEL_WORDS[m.travelFrom]}`,
      ),
    );
  for (const role of Object.keys(ROLE_WORDS) as Role[]) {
    const c = m.columns[role];
    if (c)
      out.push(
        ...entry(
          'column',
          `"${clip(c.name, 30)}" is the ${ROLE_WORDS[role]}${c.unit ? ` in ${clip(c.unit, 20)}` : ''}: ${c.evidence}`,
        ),
      );
  }
  if (Object.keys(m.columns).length === 0) out.push(...entry('columns', 'none was needed or recognised'));
  return out;
}

/** Observations that no diagnosis rests on. */
function otherObservations(r: Report): string[] {
  const used = new Set(r.diagnoses.flatMap((d) => d.because));
  return r.observations
    .filter((o) => !used.has(o.id))
    .flatMap((o) => wrap(observationText(o), undefined, '  - ', '    '));
}

function noteText(n: Report['notes'][number]): string {
  const at = [
    n.place.file,
    n.place.record === undefined ? '' : `record ${grouped(n.place.record, 0)}`,
    n.place.key ?? '',
  ].filter((s) => s);
  return clean(`${at.length > 0 ? `${at.join(', ')}: ` : ''}${n.sentence} ${n.todo}`.trim());
}

function entry(word: string, text: string): string[] {
  return wrap(text, undefined, `  ${word.padEnd(10)}`, ' '.repeat(12));
}
