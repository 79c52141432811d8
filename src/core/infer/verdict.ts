import type { Finding, Report, Setting } from '../answer.ts';
import { lengthText as length } from '../planter/units.ts';
import type { Facts, Findings } from './facts.ts';
import { definitionOf } from './settings/index.ts';

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
  const names = settings.map((s) => definitionOf(s).name);
  return names.length < 2 ? names.join('') : `${names.slice(0, -1).join(', ')} and ${names[names.length - 1]}`;
}
