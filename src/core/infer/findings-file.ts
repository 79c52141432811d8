import { areaText as area, grouped } from '../planter/units.ts';
import { addObservation, type Facts, type Findings } from './facts.ts';
import { percent, plural } from './phrases.ts';

/** The declared layout breaks a rule of its own. */
export function diagnoseRules(f: Facts, out: Findings): void {
  if (f.ruleBreaks.length === 0) return;
  const because = f.ruleBreaks.map((r) =>
    addObservation(out, {
      kind: 'layout-rule',
      says: r.says,
      measuredM: null,
      expectedM: null,
      n: 1,
      share: 1,
      passes: [],
    }),
  );
  out.diagnoses.push({
    setting: 'declared-layout',
    confidence: 0.99,
    says: `The planter file itself breaks ${plural(f.ruleBreaks.length, 'rule')} of a sound layout: ${f.ruleBreaks.map((r) => r.says).join(' ')}`,
    check: [...new Set(f.ruleBreaks.map((r) => r.todo))].join(' '),
    because,
  });
}

/** Repeated records below both of these are not a fault. */
const FEWEST_REPEATED = 10;
const REPEATED_SHARE = 0.2;

/** The same records twice: an export joined to itself, or two files of one field. */
export function diagnoseRepeats(f: Facts, out: Findings): void {
  if (f.repeated === 0) return;
  const share = f.repeated / f.records;
  const id = addObservation(out, {
    kind: 'repeated-records',
    says: `${plural(f.repeated, 'record')} of ${grouped(f.records, 0)} repeat an earlier record, to the last digit or to within its rounding.`,
    measuredM: null,
    expectedM: null,
    n: f.repeated,
    share,
    passes: [],
  });
  // A few are chance or a double keystroke, unless the map itself is only a few strips.
  if (f.repeated < Math.min(FEWEST_REPEATED, REPEATED_SHARE * f.records) || share < 0.01) return;
  out.diagnoses.push({
    setting: 'map-repeated',
    confidence: 0.99,
    says: `${percent(share)} of the records appear twice in the map; the acre count includes ${area(f.repeatedM2, f.planter.unit)} that was counted again.`,
    check:
      'Export the map again, once, and make sure that no two files of the same field were joined. The display needs no change.',
    because: [id],
  });
}

/** The name of the file's own width column gives one unit, and its values are in another. */
export function diagnoseUnits(f: Facts, out: Findings): void {
  const w = f.columns.widthMisnamed;
  if (!w) return;
  const id = addObservation(out, {
    kind: 'column-width',
    says: `The column "${w.name}" ${f.columns.roles.width?.evidence ?? ''}.`,
    measuredM: null,
    expectedM: null,
    n: f.records,
    share: 1,
    passes: [],
  });
  out.diagnoses.push({
    setting: 'map-units',
    confidence: 0.95,
    says: `The width column "${w.name}" is named in ${w.named} and holds ${w.holds}; the polygons themselves are drawn to scale.`,
    check: `Look at the unit of the export. Do not use that column for areas or rates until its name or its values are corrected.`,
    because: [id],
  });
}
