/**
 * Before and after a fix: one verdict per setting, from two answers about the same planter.
 *
 * Assumes two finished checks. Guarantees `fixed` only where the second map could have shown the fault and does not.
 *
 * Decision: both maps get the same planting. Fitted separately, each map would match the planting that its display was left on, and a fault that has been fixed would not show.
 */
import type { Answer, Diagnosis, Setting } from '../answer.ts';
import { FEWEST_BARS, LEAST_TRAVEL_M, settingsInWords, WIDTH_SETTINGS } from '../infer/index.ts';
import { distanceText } from '../planter/units.ts';
import { CAUTIONS, lowerFirst, upperFirst } from '../shared/messages.ts';
import { type MachinePair, machinePairs } from './machines.ts';
import { apartM, daysOf, type MapPlace, placeOf } from './place.ts';

export { daysOf, type MapPlace, placeText } from './place.ts';

export interface SettingOutcome {
  setting: Setting;
  /** Machine that it is about; left out where there is one. */
  machine?: string;
  outcome: 'fixed' | 'not fixed' | 'not enough data' | 'new';
  /** In a technician's words, with what would decide it where it is undecided. */
  says: string;
  before: Diagnosis | null;
  after: Diagnosis | null;
}

export interface Comparison {
  compare: 'guessrow-compare/1';
  verdict: 'fixed' | 'not fixed' | 'not enough data' | 'nothing to fix';
  says: string;
  /** Where and when each of the maps was recorded, and how far apart they lie, meters; null where one covers no ground. */
  before: MapPlace;
  after: MapPlace;
  apartM: number | null;
  /** What must be settled before the maps can be compared: one planter, the order of the two, or one place (`CompareOptions.elsewhere`). */
  asks: 'planter' | 'order' | 'place' | null;
  settings: SettingOutcome[];
  /** Where several machines worked the field: the verdict on each. Empty otherwise. */
  machines: MachineOutcome[];
  /** Where the planter has several plantings and none was named: what follows under each. Empty otherwise. */
  plantings: { planting: string; verdict: Comparison['verdict']; says: string }[];
  cautions: readonly string[];
}

/** What came of one machine. */
export interface MachineOutcome {
  /** By its name in the map after, where it is in both. */
  machine: string;
  planter: string;
  verdict: Comparison['verdict'];
  says: string;
}

export interface CompareOptions {
  /** The maps may lie in different places: the strip after the fix was driven in another field. */
  elsewhere?: boolean;
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
/** Seams needed to clear a seam setting; an alternation needs one more to show both kinds. */
const SEAMS_TO_CLEAR = 2;

/** Maps further apart than this are of different fields, meters. A field with its neighbors lies well within it (common practice). */
const MOST_APART_M = 3000;

/**
 * Compares the answer about the map after a fix with the one before it, machine by machine. Maps of different planters, maps that lie apart, and maps whose dates say
 * that they were swapped are not compared: the verdict asks which is meant.
 */
export function compare(before: Answer, after: Answer, options: CompareOptions = {}): Comparison {
  const b = before.report;
  const a = after.report;
  const [was, is] = [placeOf(before), placeOf(after)];
  const apart = apartM(was, is);
  const asked = askFirst(before, after, was, is, options);
  const made = (j: Judged, machines: MachineOutcome[] = []): Comparison => ({
    compare: 'guessrow-compare/1',
    ...j,
    before: was,
    after: is,
    apartM: apart,
    asks: asked?.of ?? null,
    machines,
    plantings: [],
    cautions: CAUTIONS,
  });
  if (asked !== null) return made({ verdict: 'not enough data', says: `Cannot tell yet: ${asked.says}`, settings: [] });
  if (b.machines.length === 1 && a.machines.length === 1) return made(judge(before, after));
  const each = machinePairs(before, after).map((pair) => ({ ...pair, ...judgePair(pair) }));
  const machines = each.map(({ machine, planter, verdict, says }) => ({ machine, planter, verdict, says }));
  const settings = each.flatMap((m) => m.settings.map((o) => ({ ...o, machine: m.machine })));
  return made({ ...verdictOfMachines(machines), settings }, machines);
}

type Judged = Pick<Comparison, 'verdict' | 'says' | 'settings'>;

/** One machine of both maps, or the one machine that there is. */
function judge(before: Answer, after: Answer): Judged {
  const b = before.report;
  const a = after.report;
  const made = (verdict: Comparison['verdict'], says: string, settings: SettingOutcome[]): Judged => ({
    verdict,
    says,
    settings,
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
        says: `No longer shown, but the map after the fix cannot clear it: ${missing}`,
        before: d,
        after: null,
      };
    return {
      setting: d.setting,
      outcome: 'fixed',
      says: 'Fixed: the map after the fix would show this, and does not.',
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

function judgePair({ machine, before, after }: MachinePair): Judged {
  if (before && after) return judge(before, after);
  if (before && before.report.verdict === 'agrees')
    return { verdict: 'nothing to fix', says: 'Nothing was wrong before; it is not in the map after.', settings: [] };
  const where = before ? 'after' : 'before';
  return {
    verdict: 'not enough data',
    says: `Cannot tell yet: the map ${where} has no passes of "${machine}".`,
    settings: [],
  };
}

/** One word for all machines: what is not fixed on one of them is not fixed. */
function verdictOfMachines(machines: readonly MachineOutcome[]): Pick<Comparison, 'verdict' | 'says'> {
  const order = ['not fixed', 'not enough data', 'fixed', 'nothing to fix'] as const;
  const verdict = order.find((v) => machines.some((m) => m.verdict === v)) ?? 'not enough data';
  return { verdict, says: machines.map((m) => `${upperFirst(m.machine)}: ${lowerFirst(m.says)}`).join(' ') };
}

/** Why two maps are not to be compared as they were given, and what to do; null where they are. */
function askFirst(
  b: Answer,
  a: Answer,
  was: MapPlace,
  is: MapPlace,
  { elsewhere = false }: CompareOptions,
): { of: NonNullable<Comparison['asks']>; says: string } | null {
  // Of several machines each has its own planter: they are paired by it.
  const several = b.report.machines.length > 1 || a.report.machines.length > 1;
  if (!several && JSON.stringify(b.planter.file) !== JSON.stringify(a.planter.file)) {
    const says =
      b.planter.name === a.planter.name
        ? `the two maps were checked with two versions of the planter "${a.planter.name}". Check both with one planter file.`
        : `the map before was checked with the planter "${b.planter.name}" and the one after with "${a.planter.name}". Compare two maps of one planter.`;
    return { of: 'planter', says };
  }
  if (was.firstMs !== null && is.lastMs !== null && was.firstMs > is.lastMs) {
    const says = `the map given as before was recorded after the other: ${daysOf(was)}, and ${daysOf(is)}. Give the earlier map first.`;
    return { of: 'order', says };
  }
  const m = apartM(was, is);
  if (m === null || m <= MOST_APART_M || elsewhere) return null;
  return {
    of: 'place',
    says: `the two maps lie ${distanceText(m, a.planter.unit)} apart. Compare two maps of one place.`,
  };
}

/** One comparison out of those under each planting, where none was named: its verdict holds where every planting gives the same one. */
export function compareEach(each: readonly { planting: string; comparison: Comparison }[]): Comparison {
  const [first] = each;
  const plantings = each.map(({ planting, comparison: c }) => ({ planting, verdict: c.verdict, says: c.says }));
  if (each.length === 1) return first.comparison;
  const alike = each.every((e) => e.comparison.verdict === first.comparison.verdict);
  // A question before the comparison is the same under each planting.
  if (each.every((e) => e.comparison.says === first.comparison.says)) return first.comparison;
  const says = alike
    ? `${WORD[first.comparison.verdict]} under every planting of the planter.`
    : 'Cannot tell yet: the answer depends on which planting was planted. Name it, then compare again.';
  return {
    ...first.comparison,
    verdict: alike ? first.comparison.verdict : 'not enough data',
    says,
    settings: [],
    plantings,
  };
}

const WORD: Readonly<Record<Comparison['verdict'], string>> = {
  fixed: 'Fixed',
  'not fixed': 'Not fixed',
  'not enough data': 'Cannot tell yet',
  'nothing to fix': 'Nothing to fix',
};

/** Why an answer is undecided, and what would decide it. */
function undecided({ report }: Answer): string {
  return [report.says, ...report.wouldDecide.map((w) => `What would decide it: ${w}`)].join(' ');
}

/** What the map after the fix lacks to show the setting's fault; null when it has enough. `byColumn`: the map before showed the fault by its column of widths. */
function lacks(after: Answer, setting: Setting, byColumn: boolean): string | null {
  const r = after.report;
  const u = after.planter.unit;
  if (setting === 'map-repeated' || setting === 'declared-layout') return null;
  const bars = FEWEST_BARS - r.map.bars;
  const meters = LEAST_TRAVEL_M - r.map.travelM;
  if (r.map.grain === 'blob')
    return 'the map is dissolved; export it with one polygon for each section and log interval.';
  if (meters > 0 || (bars > 0 && r.map.grain !== 'strip')) {
    const perBar = r.map.bars > 0 ? r.map.travelM / r.map.bars : 2;
    return `drive at least ${distanceText(Math.max(meters, bars * perBar, 5), u)} more with every section on.`;
  }
  if (NEEDS_SEAMS.includes(setting)) {
    const wrong = r.diagnoses.filter((d) => WIDTH_SETTINGS.has(d.setting)).map((d) => d.setting);
    if (wrong.length > 0)
      return `correct ${settingsInWords(wrong)} first, because the seams follow the recorded width.`;
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
