import type { Finding, Report, Setting } from '../answer.ts';
import { lengthText as length } from '../planter/units.ts';
import type { Facts, Findings } from './facts.ts';

/** What a technician calls each setting. */
const SETTING_WORDS: Record<Setting, string> = {
  'planted-rows': 'the rows that plant',
  'frame-rows': "the frame's row count",
  'row-spacing': 'the row spacing',
  'frame-as-wide': 'the frame, entered as its wide rows only',
  'section-rows': 'the rows of the sections',
  'sections-merged': 'the number of sections',
  'section-idle': 'sections without a planted row',
  'section-across-drives': 'a section across two drives',
  'section-order': 'the order of the sections',
  'pass-spacing': 'the pass spacing',
  'side-offset': 'the side offset',
  'inline-offset': 'the offset along travel',
  'switch-delay': 'the switching delay',
  'section-control-off': 'section control',
  'section-stuck-on': 'a section that stays on',
  'section-stuck-off': 'a section that drops out',
  'changed-midway': 'a layout that changed on the way',
  'map-repeated': 'records that stand in the map twice',
  'map-units': "the map's units",
  'declared-layout': 'the declared layout itself',
};

/** The verdict in one sentence. */
export function sentence(
  f: Facts,
  verdict: Report['verdict'],
  diagnoses: Finding[],
  out: Findings,
  layoutAgrees: boolean,
): string {
  const u = f.planter.unit;
  const whole = `"${f.planting.name}", ${f.layout.rows.length} rows, ${length(f.layout.workingWidthM, u)}`;
  if (verdict === 'agrees')
    return f.plantingFound
      ? `The map agrees with the planter as declared, if "${f.planting.name}" is what was planted (${whole.slice(whole.indexOf(',') + 2)}).`
      : `The map agrees with the planter as declared (${whole}).`;
  if (verdict === 'undecided') {
    // What was judged and agrees is worth as much to a technician as what was not.
    const rest = layoutAgrees
      ? ` The recorded width${f.grain === 'section' ? ' and sections agree' : ' agrees'} with the planter as declared (${whole}).`
      : '';
    return `Undecided: ${out.undecided[0].what}${rest}`;
  }
  return `The map differs from the planter as declared (${whole}): look at ${settingsInWords(diagnoses.map((d) => d.setting))}.`;
}

/** Settings inside a sentence. */
export function settingsInWords(settings: readonly Setting[]): string {
  const names = settings.map((s) => SETTING_WORDS[s]);
  return names.length < 2 ? names.join('') : `${names.slice(0, -1).join(', ')} and ${names[names.length - 1]}`;
}
