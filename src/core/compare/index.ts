/**
 * Before and after a fix: one verdict per setting, from two answers about the same planter.
 *
 * Assumes two finished checks. Guarantees `fixed` only where the second map could have shown the fault and does not.
 */
import type { Answer, Diagnosis, Setting } from '../answer.ts';
import { FEWEST_BARS, LEAST_TRAVEL_M, settingsInWords, WIDTH_SETTINGS } from '../infer/index.ts';
import { CAUTIONS } from '../messages.ts';
import { distanceText } from '../planter/units.ts';

export interface SettingOutcome {
  setting: Setting;
  outcome: 'fixed' | 'not fixed' | 'not enough data' | 'new';
  /** In a technician's words, with what would decide it where it is not decided. */
  says: string;
  before: Diagnosis | null;
  after: Diagnosis | null;
}

export interface Comparison {
  compare: 'guessrow-compare/1';
  verdict: 'fixed' | 'not fixed' | 'not enough data' | 'nothing to fix';
  says: string;
  settings: SettingOutcome[];
  cautions: readonly string[];
}

const NEEDS_SEAMS: Setting[] = ['pass-spacing', 'side-offset'];
const NEEDS_SECTIONS: Setting[] = [
  'section-rows',
  'sections-merged',
  'section-idle',
  'section-across-drives',
  'section-stuck-off',
  'section-stuck-on',
  'section-order',
];
const NEEDS_ENDS: Setting[] = [
  'inline-offset',
  'switch-delay',
  'section-control-off',
  'section-stuck-on',
  'section-order',
];
/** Seams that clear a seam setting; an alternation needs one more to show both kinds. */
const SEAMS_TO_CLEAR = 2;

/** Holds the answer about the map after a fix against the one before it. */
export function compare(before: Answer, after: Answer): Comparison {
  const b = before.report;
  const a = after.report;
  const made = (verdict: Comparison['verdict'], says: string, settings: SettingOutcome[]): Comparison => ({
    compare: 'guessrow-compare/1',
    verdict,
    says,
    settings,
    cautions: CAUTIONS,
  });
  if (b.declared.planting !== a.declared.planting)
    return made(
      'not enough data',
      `Cannot tell yet: the map before fits the planting "${b.declared.planting}" and the one after it "${a.declared.planting}". Say which of them was planted, then compare again.`,
      [],
    );
  const settings: SettingOutcome[] = b.diagnoses.map((d) => {
    const still = a.diagnoses.find((x) => x.setting === d.setting) ?? null;
    if (still)
      return { setting: d.setting, outcome: 'not fixed', says: `Not fixed: ${still.says}`, before: d, after: still };
    const byColumn = d.because.some((id) => b.observations.find((o) => o.id === id)?.kind === 'column-width');
    const missing = lacks(after, d.setting, byColumn);
    if (missing)
      return {
        setting: d.setting,
        outcome: 'not enough data',
        says: `Not shown any more, but the map after it cannot clear it: ${missing}`,
        before: d,
        after: null,
      };
    return {
      setting: d.setting,
      outcome: 'fixed',
      says: 'Fixed: the map after it no longer shows this, and would have.',
      before: d,
      after: null,
    };
  });
  for (const d of a.diagnoses) {
    if (b.diagnoses.some((x) => x.setting === d.setting)) continue;
    settings.push({ setting: d.setting, outcome: 'new', says: `New: ${d.says}`, before: null, after: d });
  }
  const of = (o: SettingOutcome['outcome']): Setting[] => settings.filter((s) => s.outcome === o).map((s) => s.setting);
  if (of('not fixed').length > 0 || of('new').length > 0) {
    const parts = [
      of('not fixed').length > 0 ? `Still shown: ${settingsInWords(of('not fixed'))}.` : '',
      of('new').length > 0 ? `New: ${settingsInWords(of('new'))}.` : '',
    ].filter(Boolean);
    return made('not fixed', `Not fixed. ${parts.join(' ')}`, settings);
  }
  const open = settings.find((s) => s.outcome === 'not enough data');
  if (open) return made('not enough data', `Cannot tell yet: ${open.says}`, settings);
  if (a.verdict === 'undecided') return made('not enough data', `Cannot tell yet: ${undecided(after)}`, settings);
  if (b.verdict === 'undecided')
    return made(
      'not enough data',
      `Cannot tell yet: the map before the fix decides nothing, so nothing can be confirmed. ${undecided(before)}`,
      settings,
    );
  if (settings.length === 0) return made('nothing to fix', `Nothing was wrong before: ${b.says}`, settings);
  return made('fixed', `Fixed. No longer shown: ${settingsInWords(of('fixed'))}. Nothing new shows.`, settings);
}

/** Why an answer is undecided, and what would decide it. */
function undecided({ report }: Answer): string {
  return [report.says, ...report.wouldDecide.map((w) => `What would decide it: ${w}`)].join(' ');
}

/** What the map after the fix lacks before it could show the setting's fault, which the one before showed `byColumn` of widths or not; null when it has enough. */
function lacks(after: Answer, setting: Setting, byColumn: boolean): string | null {
  const r = after.report;
  const u = after.planter.unit;
  if (setting === 'map-repeated' || setting === 'declared-layout') return null;
  const bars = FEWEST_BARS - r.map.bars;
  const metres = LEAST_TRAVEL_M - r.map.travelM;
  if (r.map.grain === 'blob')
    return 'the map is dissolved; export it with one polygon for each section and log interval.';
  if (metres > 0 || (bars > 0 && r.map.grain !== 'strip')) {
    const perBar = r.map.bars > 0 ? r.map.travelM / r.map.bars : 2;
    return `drive at least ${distanceText(Math.max(metres, bars * perBar, 5), u)} more with every section on.`;
  }
  if (NEEDS_SEAMS.includes(setting)) {
    const wrong = r.diagnoses.filter((d) => WIDTH_SETTINGS.has(d.setting)).map((d) => d.setting);
    if (wrong.length > 0) return `put ${settingsInWords(wrong)} right first, for the seams follow the recorded width.`;
    const need = SEAMS_TO_CLEAR + (setting === 'side-offset' ? 1 : 0) - r.seams.count;
    if (need > 0) return `drive ${need} more ${need === 1 ? 'pass' : 'passes'} beside the ones there, back and forth.`;
    if (setting === 'side-offset' && r.seams.alternatingM === null)
      return 'drive two more passes back and forth, and export the times or the order of the records.';
  }
  if (byColumn && !r.map.columns.width) return 'the map has no column of the width; export it as before.';
  if (NEEDS_SECTIONS.includes(setting) && r.map.grain !== 'section')
    return 'the map holds no sections; export it with one polygon for each section.';
  if (NEEDS_ENDS.includes(setting) && !after.report.observations.length && r.map.passes < 6)
    return 'drive six more passes into covered ground.';
  return null;
}
