/**
 * Random maps for `calibrate.ts`: a planter, a field, noise, and one setting that went wrong or none. Frames, spacings, shapes and
 * sizes are not those of the tests. Each map is drawn from its own number alone, so that any one of them can be drawn again.
 */
import type { Setting } from '../../src/core/answer.ts';
import { SETTINGS } from '../../src/core/infer/settings/index.ts';
import { rowsOf } from '../generator/planters.ts';
import { Random } from '../generator/random.ts';
import type { FieldSpec, Run, Truth } from '../generator/spec.ts';

export interface Drawn {
  spec: FieldSpec;
  /** The planter file. */
  planter: string;
  planting: string;
  /** What the user says about the positioning; the default when undefined. */
  passAccuracyM: number | undefined;
  fault: Setting | null;
  /** Settings that are wrong in this map: the seeded one and what comes with it. */
  wrong: Setting[];
  /** The map's coordinates are stretched by this about the field's corner. */
  scale: number;
  noiseM: number;
  kind: string;
}

type Grain = 'section' | 'bar' | 'strip';

/** Settings whose traces a grain holds. */
const SEEN_IN: Record<Grain, Set<Setting>> = {
  section: new Set(SETTINGS.map((d) => d.setting)),
  bar: new Set<Setting>([
    'planted-rows',
    'frame-as-wide',
    'frame-rows',
    'row-spacing',
    'pass-spacing',
    'side-offset',
    'inline-offset',
    'switch-delay',
    'changed-midway',
    'map-repeated',
    'map-units',
    'declared-layout',
  ]),
  strip: new Set<Setting>([
    'planted-rows',
    'frame-as-wide',
    'frame-rows',
    'row-spacing',
    'pass-spacing',
    'map-repeated',
    'map-units',
    'declared-layout',
  ]),
};
/** These need a headland to switch at. */
const NEED_FIELD = new Set<Setting>([
  'section-order',
  'section-control-off',
  'section-stuck-on',
  'inline-offset',
  'switch-delay',
]);
/** Part of the maps that nothing is wrong with. */
const CLEAN = 0.25;

const FOOT_M = 0.3048;

export function draw(number: number, seed: number): Drawn {
  const random = new Random(seed + 7_919 * number);
  // A setting whose traces this kind of map does not hold is drawn again, with everything else: twins keep the rates of the priors.
  for (;;) {
    const d = attempt(random, seed, number);
    if (d) return d;
  }
}

function attempt(random: Random, seed: number, number: number): Drawn | null {
  const pick = <T>(list: readonly T[]): T => list[Math.floor(random.next() * list.length)];
  const between = (a: number, b: number): number => random.between(a, b);
  const chance = (p: number): boolean => random.next() < p;

  const metric = chance(0.4);
  const unitM = metric ? 0.01 : 0.0254;
  const rows = pick([9, 11, 13, 16, 19, 20, 21, 27, 31, 32]);
  const spacing = metric ? pick([40, 45, 50, 55]) : pick([15, 18, 20, 22]);
  const grain = pick(['section', 'section', 'section', 'bar', 'strip'] as const);
  const kind = pick(['field', 'field', 'field', 'strip', 'strip', 'short'] as const);
  const split = chance(0.75);
  const wide = split && chance(0.4);
  const planting = wide ? 'wide' : 'narrow';
  const step = wide ? 2 : 1;
  const planted = rowsOf(rows, wide ? 'odd' : 'all');
  const wideRows = rowsOf(rows, 'odd').length;
  const width = planted.length * step * spacing;
  const even = rows % 2 === 0;

  let fault: Setting | null = null;
  if (!chance(CLEAN)) {
    const all = SETTINGS.map((d) => d.setting);
    let at = random.next() * SETTINGS.reduce((a, d) => a + d.prior, 0);
    fault = all[all.length - 1];
    for (const s of all) {
      at -= SETTINGS.find((d) => d.setting === s)!.prior;
      if (at < 0) {
        fault = s;
        break;
      }
    }
    if (!SEEN_IN[grain].has(fault)) return null;
    if (NEED_FIELD.has(fault) && kind !== 'field') return null;
    if (fault === 'planted-rows' && (!split || even)) return null;
    // On an even frame as wide as declared, and seen in the sections only.
    if (fault === 'frame-as-wide' && (!split || ((wide || even) && grain !== 'section'))) return null;
    if (fault === 'section-idle' && !wide) return null;
  }

  // Sections: pairs, or pairs of pairs, with one single row beside the centre line of an odd frame; one to three drives end with a section.
  let sections = pairs(rows);
  if (chance(0.3) && fault !== 'section-rows') sections = joined(sections);
  let drives = drivesOf(sections, rows, pick([1, 1, 2, 3]));
  const wrong: Setting[] = fault ? [fault] : [];
  const belief: NonNullable<FieldSpec['belief']> = {};
  const passSpacing: Record<string, number> = {};
  let spacingM = width * unitM;

  const noiseM = Math.exp(between(Math.log(0.005), Math.log(0.2)));
  const told = chance(0.5);
  const accuracyM = told ? Math.max(0.01, noiseM) : undefined;
  const limitM = Math.max(0.05, 2 * (accuracyM ?? 0.025));
  const shape: FieldSpec['shape'] =
    kind === 'field'
      ? {
          kind: 'field',
          lengthM: between(90, 135),
          widthM: Math.max(50, Math.min(125, width * unitM * between(7, 10))),
          headlandLaps: pick([1, 1, 2] as const),
          ...(chance(0.5) ? { pointRowsDeg: between(8, 30) } : {}),
          ...(chance(0.3) ? { curve: { amplitudeM: between(2, 5), wavelengthM: between(200, 400) } } : {}),
        }
      : {
          kind: 'strip',
          lengthM: kind === 'short' ? between(20, 80) : between(80, 125),
          passes: kind === 'short' ? pick([1, 1, 2, 3]) : pick([4, 5, 6, 7]),
          ...(chance(0.3) ? { curve: { amplitudeM: between(2, 5), wavelengthM: between(200, 400) } } : {}),
        };
  const truth: Truth = { rows, rowSpacingM: spacing * unitM, planted, sections, drives };
  const spec: FieldSpec = {
    seed: seed + number,
    origin: { lat: between(-45, 55), lon: between(-120, 140) },
    headingDeg: between(0, 360),
    truth,
    passSpacingM: spacingM,
    shape,
    noise: { wanderM: noiseM, passBiasM: noiseM / 2 },
    sectionControl: true,
    hz: pick([1, 1, 1, 2]),
    speedMPerS: between(1.8, 3.4),
    speedSpread: pick([0.03, 0.08, 0.22]),
    corners: pick(['shared', 'independent'] as const),
    grain,
    order: pick(['log', 'log', 'section-major'] as const),
    columns: {
      ...(chance(0.6) ? { time: { name: 'stamp', as: pick(['epoch-s', 'iso'] as const) } } : {}),
      ...(grain === 'section' && chance(0.5) ? { section: { name: 'part' } } : {}),
    },
  };
  let scale = 1;
  // With the planter down well into the headland, never out of the field.
  const intoHeadland = (): number =>
    Math.min(11, 0.85 * spacingM * (spec.shape.kind === 'field' ? spec.shape.headlandLaps : 1));
  const follow = (rowsPlanted: number, gap: number): void => {
    spacingM = rowsPlanted * gap * unitM;
  };

  switch (fault) {
    case 'planted-rows':
      belief.planted = rowsOf(rows, wide ? 'all' : 'odd');
      follow(wide ? rows : wideRows, wide ? spacing : 2 * spacing);
      break;
    case 'frame-as-wide': {
      const way = random.next();
      belief.rows = wideRows;
      belief.rowSpacingM = 2 * spacing * unitM;
      belief.planted = rowsOf(wideRows, 'all');
      belief.sections =
        way < 0.65
          ? pairs(wideRows)
          : way < 0.73
            ? singles(wideRows)
            : [
                [1, Math.ceil(wideRows / 2)],
                [Math.ceil(wideRows / 2) + 1, wideRows],
              ];
      belief.drives = [[1, wideRows]];
      follow(wideRows, 2 * spacing);
      break;
    }
    case 'frame-rows': {
      // The neighbouring count most often; one row more of an odd frame planted wide records the same wide rows and is not seen.
      const near = wide ? 2 : 1;
      const n = rows + pick([-1, 1]) * (chance(0.75) ? near : pick([2, 3, 4]) * near);
      belief.rows = n;
      belief.planted = rowsOf(n, wide ? 'odd' : 'all');
      belief.sections = pairs(n);
      belief.drives = [[1, n]];
      follow(belief.planted.length * step, spacing);
      break;
    }
    case 'row-spacing': {
      const other = pick((metric ? [37.5, 40, 45, 50, 55, 60] : [14, 15, 18, 20, 22, 24]).filter((s) => s !== spacing));
      belief.rowSpacingM = other * unitM;
      follow(planted.length * step, other);
      break;
    }
    case 'sections-merged': {
      const way = random.next();
      belief.sections =
        way < 0.4
          ? joined(sections)
          : way < 0.7
            ? [sections.slice(0, sections.length >> 1), sections.slice(sections.length >> 1)].map(whole)
            : sections.flatMap((s, i) => (i === 1 ? [] : i === 0 ? [whole(sections.slice(0, 2))] : [s]));
      break;
    }
    case 'section-rows': {
      // Two or three inner edges by one planted row, to the right.
      const from = Math.floor(random.next() * (sections.length - 3));
      const many = pick([1, 2, 3]);
      belief.sections = moved(sections, from, Math.min(many, sections.length - 1 - from), step);
      if (belief.sections.map(text).join() === sections.map(text).join() || belief.sections.length < sections.length)
        return null;
      break;
    }
    case 'section-idle':
      sections = singles(rows);
      belief.sectionsBy = 'physical';
      wrong.push('declared-layout');
      break;
    case 'section-across-drives': {
      const inner = sections.filter((s, i) => s[1] > s[0] && i > 0 && i < sections.length - 1);
      if (inner.length === 0) return null;
      const cut = pick(inner)[0];
      drives = [
        [1, cut],
        [cut + 1, rows],
      ];
      belief.acrossDrives = wide ? 'missing' : pick(['missing', 'missing', 'left-only', 'right-only'] as const);
      wrong.push('declared-layout');
      break;
    }
    case 'section-order':
      belief.mirrored = true;
      spec.runInM = intoHeadland();
      if (spec.shape.kind === 'field') spec.shape.pointRowsDeg = between(12, 30);
      break;
    case 'section-stuck-on':
      belief.stuckOn = 1 + Math.floor(random.next() * sections.length);
      spec.runInM = intoHeadland();
      break;
    case 'section-stuck-off': {
      const section = 2 + Math.floor(random.next() * (sections.length - 2));
      belief.stuckOff = chance(0.4)
        ? { section }
        : { section, from: 2, to: kind === 'short' ? 3 : 4 + Math.floor(random.next() * 4) };
      break;
    }
    case 'section-control-off':
      spec.sectionControl = false;
      spec.runInM = intoHeadland();
      break;
    case 'pass-spacing': {
      const other = wide ? rows * spacing : wideRows * 2 * spacing;
      const offs = [other - width, spacing, -spacing, spacing / 2, -spacing / 2, 2 * spacing].filter(
        (d) => Math.abs(d) * unitM > 1.4 * limitM,
      );
      spacingM = (width + pick(offs.length ? offs : [4 * spacing])) * unitM;
      break;
    }
    case 'side-offset':
      // Seams alternate by twice this.
      spec.sideShiftM = pick([-1, 1]) * between(0.7, 1.8) * Math.max(limitM, 0.08);
      break;
    case 'inline-offset':
    case 'switch-delay': {
      const barM = spec.speedMPerS! / spec.hz!;
      const m = pick([-1, 1]) * between(1.3, 2.2) * Math.max(barM, 1);
      if (fault === 'inline-offset') {
        truth.offsetBackM = Math.max(0, m);
        belief.offsetBackM = Math.max(0, -m);
      } else {
        truth.onDelayS = Math.max(0, m / spec.speedMPerS!);
        truth.offDelayS = truth.onDelayS;
        belief.onDelayS = Math.max(0, -m / spec.speedMPerS!);
        belief.offDelayS = belief.onDelayS;
      }
      break;
    }
    case 'changed-midway': {
      const later: NonNullable<FieldSpec['belief']> = {};
      const way = random.next();
      if (split && !even && (way < 0.5 || grain === 'bar')) {
        later.planted = rowsOf(rows, wide ? 'all' : 'odd');
        wrong.push('planted-rows');
        if (grain === 'bar') wrong.push('frame-as-wide');
      } else if (way < 0.75 && grain === 'section') {
        later.sections = joined(sections);
        wrong.push('sections-merged');
      } else {
        later.rowSpacingM = (metric ? 37.5 : 14) * unitM;
        wrong.push('row-spacing');
      }
      const late = kind === 'field' ? pick([5, 6, 7, 8]) : kind === 'strip' ? pick([2, 3, 4]) : 2;
      spec.change = { pass: late, ...(chance(0.4) ? { bar: 15 } : {}), belief: later };
      // Seams of two widths: steered by the first.
      wrong.push('pass-spacing');
      break;
    }
    case 'map-repeated':
      spec.repeat = grain === 'strip' || chance(0.5) ? 'all' : { first: 40, count: 300 };
      break;
    case 'map-units':
      if (chance(0.5)) scale = pick([FOOT_M, 1 / FOOT_M]);
      else spec.columns!.width = { name: pick(['swath_ft', 'width_ft']), unit: 'm' };
      break;
    case 'declared-layout':
      if (chance(0.5)) {
        const inner = sections.filter((s, i) => s[1] > s[0] && i > 0 && i < sections.length - 1);
        if (inner.length === 0) return null;
        const cut = pick(inner)[0];
        drives = [
          [1, cut],
          [cut + 1, rows],
        ];
      } else passSpacing[planting] = width + spacing;
      break;
    default:
  }
  // Less than two log intervals into the headland shows no more than the intervals themselves.
  if (spec.runInM !== undefined && spec.runInM < (2 * spec.speedMPerS!) / spec.hz!) return null;
  truth.sections = sections;
  truth.drives = drives;
  if (Object.keys(belief).length > 0) spec.belief = belief;
  spec.passSpacingM = spacingM;
  const file = {
    name: `Frame of ${rows}`,
    unit: metric ? 'cm' : 'in',
    rows,
    rowSpacing: spacing,
    plantings: split ? { narrow: 'all', wide: 'odd' } : { narrow: 'all' },
    sections: sections.map(text),
    drives: drives.map(text),
    ...(Object.keys(passSpacing).length ? { passSpacing } : {}),
  };
  return { spec, planter: JSON.stringify(file), planting, passAccuracyM: accuracyM, fault, wrong, scale, noiseM, kind };
}

const text = (r: Run): string => (r[0] === r[1] ? `${r[0]}` : `${r[0]}-${r[1]}`);
const whole = (list: Run[]): Run => [list[0][0], list[list.length - 1][1]];

/** Pairs, with one single row beside the centre line of an odd frame. */
export function pairs(rows: number): Run[] {
  const out: Run[] = [];
  const middle = (rows + 1) / 2;
  const single = rows % 2 ? (middle % 2 ? middle : middle - 1) : 0;
  for (let r = 1; r <= rows; ) {
    const last = r === single || r === rows ? r : r + 1;
    out.push([r, last]);
    r = last + 1;
  }
  return out;
}

const singles = (rows: number): Run[] => Array.from({ length: rows }, (_, i): Run => [i + 1, i + 1]);

/** Neighbouring sections joined in twos; a single row stays alone. */
function joined(sections: Run[]): Run[] {
  const out: Run[] = [];
  for (let i = 0; i < sections.length; ) {
    const alone =
      sections[i][0] === sections[i][1] || i + 1 === sections.length || sections[i + 1][0] === sections[i + 1][1];
    out.push(alone ? sections[i] : whole(sections.slice(i, i + 2)));
    i += alone ? 1 : 2;
  }
  return out;
}

/** Edges `from` up to `from + many` moved by `by` rows to the right, each section keeping a row. */
function moved(sections: Run[], from: number, many: number, by: number): Run[] {
  const ends = sections.map((s) => s[1]);
  for (let i = from + many - 1; i >= from; i--) ends[i] = Math.min(ends[i] + by, ends[i + 1] - by);
  const out: Run[] = [];
  let first = 1;
  for (const e of ends) {
    if (e >= first) out.push([first, e]);
    first = Math.max(first, e + 1);
  }
  return out;
}

function drivesOf(sections: Run[], rows: number, many: number): Run[] {
  const cuts: number[] = [];
  for (let d = 1; d < many; d++) {
    const at = (rows * d) / many;
    cuts.push(sections.map((s) => s[1]).reduce((a, b) => (Math.abs(b - at) < Math.abs(a - at) ? b : a)));
  }
  const ends = [...new Set(cuts.filter((c) => c < rows)), rows];
  return ends.map((e, i): Run => [i === 0 ? 1 : ends[i - 1] + 1, e]);
}
