import type { MachineSummary, Report } from '../answer.ts';
import type { Unit } from '../planter/types.ts';
import { FOOT_M, INCH_M, trim } from '../planter/units.ts';
import { clean } from '../shared/safe.ts';
import { columns, padEnd, TEXT_WIDTH } from './plain.ts';

/** One section on a ruler, meters from the middle of that ruler's own width. */
export interface Stretch {
  leftM: number;
  rightM: number;
  label: string;
}

/** Declared and recorded bands on one scale, each from the middle of its own width. Empty `recorded` when the map shows no width. */
export interface Rulers {
  declared: Stretch[];
  recorded: Stretch[];
  /** Both rulers lie within this distance of the middle, meters. */
  reachM: number;
  ticks: { atM: number; label: string }[];
  /** What the tick labels count: "feet", "inches", "meters", "cm". */
  tickUnit: string;
}

/**
 * The machine whose layout and seams are shown: of those that have the verdict of the map, the one that drove most. A map differs because of one of its machines, and the rulers
 * of another would contradict that.
 */
export function shownMachine({
  machines,
  verdict,
  declared,
  recorded,
  seams,
}: Report): Pick<MachineSummary, 'name' | 'declared' | 'recorded' | 'seams'> {
  const own = machines.filter((m) => m.verdict === verdict);
  const most = own.reduce<MachineSummary | null>((a, m) => (a === null || m.travelM > a.travelM ? m : a), null);
  return machines.length > 1 && most ? most : { name: '', declared, recorded, seams };
}

/** The two rulers of a report, for text and for drawings. `unit` is that of the planter file. */
export function rulersOf(report: Report, unit: Unit): Rulers {
  const { declared: d, recorded: r } = shownMachine(report);
  const declared = d.sections.map((s) => ({
    leftM: s.leftM - d.centerM,
    rightM: s.rightM - d.centerM,
    label: clean(s.rows),
  }));
  const recorded =
    r.sections.length > 0
      ? r.sections.map((s, i) => ({ ...s, label: `${i + 1}` }))
      : r.workingWidthM === null
        ? []
        : [{ leftM: -r.workingWidthM / 2, rightM: r.workingWidthM / 2, label: 'whole width' }];
  const reachM = Math.max(0.01, ...[...declared, ...recorded].flatMap((s) => [Math.abs(s.leftM), Math.abs(s.rightM)]));
  return { declared, recorded, reachM, ...ticksFor(reachM, unit) };
}

/** Round marks on the scale: feet for inches, else meters; at most nine. Distances from the middle, without a sign. */
function ticksFor(reachM: number, unit: Unit): Pick<Rulers, 'ticks' | 'tickUnit'> {
  const small = unit === 'in' ? reachM < 3 * FOOT_M : reachM < 1;
  const [oneM, tickUnit] =
    unit === 'in' ? (small ? [INCH_M, 'inches'] : [FOOT_M, 'feet']) : small ? [0.01, 'cm'] : [1, 'meters'];
  const reach = reachM / oneM;
  const step = [1, 2, 5, 10, 20, 50, 100, 200].find((s) => reach / s < 5.001) ?? 500;
  const n = Math.floor(reach / step + 1e-9);
  const ticks = Array.from({ length: 2 * n + 1 }, (_, i) => ({
    atM: (i - n) * step * oneM,
    label: trim(Math.abs(i - n) * step, 1),
  }));
  return { ticks, tickUnit };
}

const LABEL = 10;

/** The rulers as lines of text, declared over recorded over the scale. */
export function rulerLines(rulers: Rulers, indent = '  ', width = TEXT_WIDTH): string[] {
  const across = width - indent.length - LABEL - 1;
  const at = (m: number): number => Math.round(((m / rulers.reachM + 1) / 2) * across);
  const line = (word: string, drawn: string[]): string => `${indent}${padEnd(word, LABEL)}${drawn.join('')}`.trimEnd();
  const blank = (): string[] => Array.from({ length: across + 1 }, () => ' ');
  const bar = (stretches: readonly Stretch[]): string[] => {
    const drawn = blank();
    for (const s of stretches) {
      const from = at(s.leftM);
      const to = at(s.rightM);
      for (let c = from; c <= to; c++) if (drawn[c] === ' ') drawn[c] = '─';
      drawn[from] = drawn[from] === '┤' || drawn[from] === '┼' ? '┼' : '├';
      drawn[to] = '┤';
      const room = to - from - 1;
      if (columns(s.label) <= room) {
        const start = from + 1 + Math.floor((room - columns(s.label)) / 2);
        [...s.label].forEach((ch, k) => {
          drawn[start + k] = ch;
        });
      }
    }
    return drawn;
  };
  const scale = blank();
  let free = 0;
  for (const t of rulers.ticks) {
    const start = Math.min(Math.max(0, at(t.atM) - Math.floor(t.label.length / 2)), across + 1 - t.label.length);
    if (start < free) continue;
    [...t.label].forEach((ch, k) => {
      scale[start + k] = ch;
    });
    free = start + t.label.length + 1;
  }
  const recorded =
    rulers.recorded.length > 0
      ? [line('recorded', bar(rulers.recorded))]
      : [`${indent}${padEnd('recorded', LABEL)}not seen in this map`];
  return [line('declared', bar(rulers.declared)), ...recorded, line(rulers.tickUnit, scale)];
}
