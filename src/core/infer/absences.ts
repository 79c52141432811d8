import { distanceText, gapText as gap } from '../planter/units.ts';
import { FEWEST_PASSES_OPEN, FEWEST_PLACES_OPEN, MOST_DROPPED, MOST_SURE, NAMED } from './decide.ts';
import { notOnPurpose } from './dropouts.ts';
import { addObservation, type Facts, type Findings, whenWords } from './facts.ts';
import { passWords, sectionName } from './findings-switching.ts';
import { plural } from './phrases.ts';

/**
 * A section at the end of the planter that is off for whole passes, over ground that stays open between covered ground. Off on purpose leaves such strips in one
 * place: both sides of a waterway, or a pass beside something. In several separate places that is rare.
 */
export function diagnoseAbsences(f: Facts, out: Findings): void {
  if (f.grain === 'bar' || f.grain === 'blob' || out.diagnoses.some((d) => d.setting === 'section-stuck-off')) return;
  const named = f.states.absences.filter(
    (a) =>
      a.passes.length >= FEWEST_PASSES_OPEN && a.places >= FEWEST_PLACES_OPEN && notOnPurpose(a.passes.length) >= NAMED,
  );
  if (named.length === 0 || named.length > MOST_DROPPED) return;
  const { bands } = f.bands.segments.reduce((m, s) => (s.to - s.from > m.to - m.from ? s : m));
  for (const a of named) {
    const u = f.planter.unit;
    const widthM = bands[a.slot].rightM - bands[a.slot].leftM;
    const id = addObservation(out, {
      kind: 'section-dropout',
      says: `${sectionName(f, a.slot, bands.length)} is off over ${distanceText(a.absentM, u)} of ground that stayed open between covered ground, ${plural(a.passes.length, 'pass', 'passes')} from end to end.`,
      measuredM: a.absentM,
      expectedM: 0,
      n: a.passes.length,
      share: a.absentM / f.travelM,
      passes: a.passes,
    });
    const from = f.passes.passStart[f.passes.number.indexOf(a.passes[0])];
    out.diagnoses.push({
      setting: 'section-stuck-off',
      confidence: Math.min(MOST_SURE, notOnPurpose(a.passes.length)),
      says: `${sectionName(f, a.slot, bands.length)} was off from end to end of ${passWords(a.passes)}, since ${whenWords(f, from)}; its strip, ${gap(widthM, u)} wide, stays open there.`,
      check: `Look at that section's switch and its override on the display, then at its wiring, clutch or motor. Dig behind its rows: if seed lies there, only the map is wrong.`,
      because: [id],
      predicts: { openM2: a.absentM * widthM },
    });
  }
}
