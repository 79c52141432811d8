/** Ways in which a display is set wrong. Each takes a right display and gives the wrong one, with the words of who would find it. */
import type { Setting } from '../../src/core/index.ts';
import { type Display, withFrame } from './display.ts';
import {
  bandsOf,
  evenRows,
  everyRow,
  type Frame,
  frameOf,
  oddRows,
  physicalBands,
  type Run,
  UNIT_M,
  widthOf,
  type Yard,
} from './planter.ts';
import type { Random } from './random.ts';

export interface Wrong {
  setting: Setting;
  says: string;
  /** Changes a display; the same for every epoch that it is in. */
  make: (right: Display) => Display;
  /** Changes what is declared: the file in the yard is wrong as well. */
  yard?: Yard;
  declaredPassSpacingM?: number;
  file?: { twice?: 'all' | 'half'; scale?: number; widthColumn?: 'wrong unit' };
}

/** Spacings that a display offers, meters. Common practice. */
export const OFFERED_M: readonly number[] = [
  ...[15, 18, 20, 22, 24, 28, 30, 32, 36, 38, 40].map((v) => v * 0.0254),
  ...[25, 37.5, 40, 45, 50, 55, 60, 70, 75, 80].map((v) => v / 100),
];

const cm = (m: number): string => `${Math.round(m * 100)} cm`;

/** The same way of planting on a frame with another number of rows; sections are counted off from the left, the last one takes the rest. */
export function resized(frame: Frame, rows: number): Frame {
  const every = frame.planted.length === frame.rows;
  const odd = frame.planted[0] === 1;
  const planted = every ? everyRow(rows) : odd ? oddRows(rows) : evenRows(rows);
  const sections: Run[] = [];
  for (const s of frame.sections) if (s.first <= rows) sections.push({ first: s.first, last: Math.min(s.last, rows) });
  sections[sections.length - 1] = { ...sections[sections.length - 1], last: rows };
  const last = sections[sections.length - 1];
  if (sections.length > 1 && !planted.some((r) => r >= last.first)) {
    sections.pop();
    sections[sections.length - 1].last = rows;
  }
  return { rows, spacingM: frame.spacingM, planted, sections };
}

/** The frame entered as its wide rows only: half the rows at twice the spacing, sections counted in those rows. */
export function asWide(yard: Yard): Frame | null {
  const wide = yard.plantings.find((p) => p.name === 'wide');
  if (!wide) return null;
  const sections: Run[] = [];
  let next = 1;
  for (const s of yard.sections) {
    const count = wide.rows.filter((r) => r >= s.first && r <= s.last).length;
    if (count > 0) sections.push({ first: next, last: next + count - 1 });
    next += count;
  }
  const rows = wide.rows.length;
  return { rows, spacingM: yard.spacing * 2 * UNIT_M[yard.unit], planted: everyRow(rows), sections };
}

function movedCuts(random: Random, frame: Frame): Run[] | null {
  const { sections } = frame;
  if (sections.length < 2) return null;
  const cuts = sections.slice(1).map((s) => s.first);
  const count = random.int(1, Math.min(3, cuts.length));
  for (let k = 0; k < count; k++) cuts[random.int(0, cuts.length - 1)] += random.pick([-2, -1, 1, 2]);
  const all = [1, ...cuts, frame.rows + 1];
  const out = all.slice(0, -1).map((first, i) => ({ first, last: all[i + 1] - 1 }));
  const good = out.every((s) => s.last >= s.first && frame.planted.some((r) => r >= s.first && r <= s.last));
  const same = out.every((s, i) => s.first === sections[i].first);
  return good && !same ? out : null;
}

function merged(random: Random, frame: Frame): Run[] | null {
  const n = frame.sections.length;
  if (n < 2) return null;
  const keep = random.int(1, n - 1);
  const kept = new Set<number>();
  while (kept.size < keep - 1) kept.add(random.int(1, n - 1));
  const starts = [0, ...[...kept].sort((a, b) => a - b)];
  return starts.map((from, i) => ({
    first: frame.sections[from].first,
    last: frame.sections[(starts[i + 1] ?? n) - 1].last,
  }));
}

/** Faults of the layout; they may hold for the whole field or from somewhere on. */
export function layoutFault(
  random: Random,
  setting: Setting,
  yard: Yard,
  steered: 'width' | 'as before',
): Wrong | null {
  const frame = frameOf(yard);
  const as = (to: Frame, says: string): Wrong => ({ setting, says, make: (d) => withFrame(d, to, steered) });
  switch (setting) {
    case 'planted-rows': {
      const other = yard.plantings.find((p) => p.name !== yard.planting);
      return other
        ? as({ ...frame, planted: other.rows }, `set to plant ${other.name}, planted ${yard.planting}`)
        : null;
    }
    case 'frame-rows': {
      const rows = frame.rows + random.pick([-6, -4, -4, -2, -1, 1, 2, 4]);
      return rows < 4 ? null : as(resized(frame, rows), `set to ${rows} rows, has ${frame.rows}`);
    }
    case 'row-spacing': {
      const list = OFFERED_M.filter(
        (s) => Math.abs(s - frame.spacingM) > 0.012 && s / frame.spacingM < 1.6 && s / frame.spacingM > 0.6,
      );
      const spacingM = random.pick(list);
      return as({ ...frame, spacingM }, `set to rows ${cm(spacingM)} apart, are ${cm(frame.spacingM)}`);
    }
    case 'frame-as-wide': {
      const wide = yard.planting === 'narrow' ? asWide(yard) : null;
      return wide ? as(wide, `set to the ${wide.rows} wide rows only`) : null;
    }
    case 'section-rows': {
      const sections = movedCuts(random, frame);
      return sections ? as({ ...frame, sections }, 'sections begin at other rows') : null;
    }
    case 'sections-merged': {
      const sections = merged(random, frame);
      return sections ? as({ ...frame, sections }, `${sections.length} sections, has ${frame.sections.length}`) : null;
    }
    default:
      return null;
  }
}

function acrossDrives(random: Random, yard: Yard): Wrong | null {
  if (yard.drives.length < 2) return null;
  const line = random.pick(yard.drives.slice(1)).first;
  const at = yard.sections.findIndex((s) => s.first === line);
  if (at < 1) return null;
  const [a, b] = [yard.sections[at - 1], yard.sections[at]];
  const joined = { first: a.first, last: b.last };
  const sections = [...yard.sections.slice(0, at - 1), joined, ...yard.sections.slice(at + 1)];
  const frame = { ...frameOf(yard), sections };
  const whole = bandsOf(frame);
  const parts = bandsOf(frameOf(yard));
  const bands = whole.map((band, k) =>
    k !== at - 1 ? band : random.chance(0.5) ? null : parts[random.pick([at - 1, at])],
  );
  const wrong: Wrong = {
    setting: 'section-across-drives',
    says: `rows ${joined.first}-${joined.last} are one section across the drive line at row ${line}`,
    make: (d) => ({ ...d, frame, bands, wiring: bands.map((_, i) => i) }),
  };
  return random.chance(0.5) ? { ...wrong, yard: { ...yard, sections } } : wrong;
}

/** Faults that hold for the whole field. */
export function otherFault(random: Random, setting: Setting, yard: Yard, right: Display): Wrong | null {
  const width = widthOf(right.bands);
  const n = right.bands.length;
  const outer = Math.min(
    right.bands[0]!.right - right.bands[0]!.left,
    right.bands[n - 1]!.right - right.bands[n - 1]!.left,
  );
  const either = (low: number, high: number): number => random.pick([-1, 1]) * random.between(low, high);
  switch (setting) {
    case 'section-idle': {
      const rows = everyRow(yard.rows);
      if (yard.planting !== 'wide' || yard.rows > 16) return null;
      const cut = { ...yard, sections: rows.map((r) => ({ first: r, last: r })) };
      const frame = frameOf(cut);
      const bands = physicalBands(frame);
      return {
        setting,
        says: 'a section for each row, every other one without a planted row',
        yard: cut,
        make: (d) => ({ ...d, frame, bands, wiring: bands.map((_, i) => i) }),
      };
    }
    case 'section-across-drives':
      return acrossDrives(random, yard);
    case 'section-order': {
      if (n < 3) return null;
      const wiring = right.wiring.slice();
      if (random.chance(0.6)) wiring.reverse();
      else {
        const [a, b] = [random.int(0, n - 1), random.int(0, n - 1)];
        if (Math.abs(a - b) < n / 3) return null;
        [wiring[a], wiring[b]] = [wiring[b], wiring[a]];
      }
      return { setting, says: `sections wired ${wiring.map((k) => k + 1).join(' ')}`, make: (d) => ({ ...d, wiring }) };
    }
    case 'pass-spacing': {
      const by = random.chance(0.5)
        ? random.between(0.12, 0.6)
        : -random.between(0.12, Math.max(0.13, Math.min(0.5, right.control ? outer * 0.3 : 0.5)));
      return {
        setting,
        says: `steered ${cm(width + by)} from pass to pass, is ${cm(width)} wide`,
        make: (d) => ({ ...d, stepM: d.stepM + by }),
      };
    }
    case 'declared-layout': {
      const by = either(0.15, 0.5);
      const step = width + (by < 0 && right.control ? -Math.min(-by, outer * 0.3) : by);
      return {
        setting,
        says: `declared pass spacing ${cm(step)}, working width ${cm(width)}; driven as declared`,
        declaredPassSpacingM: step,
        make: (d) => ({ ...d, stepM: step }),
      };
    }
    case 'side-offset': {
      const asideM = either(0.08, 0.4);
      return {
        setting,
        says: `drawn ${cm(Math.abs(asideM))} too far ${asideM > 0 ? 'right' : 'left'}`,
        make: (d) => ({ ...d, asideM }),
      };
    }
    case 'inline-offset': {
      const forwardM = random.chance(0.6) ? random.between(0.8, 5) : -random.between(2.5, 6);
      return {
        setting,
        says: `drawn ${cm(Math.abs(forwardM))} too far ${forwardM > 0 ? 'ahead' : 'behind'}`,
        make: (d) => ({ ...d, forwardM }),
      };
    }
    case 'switch-delay': {
      const delayS = random.between(0.7, 2.5);
      return { setting, says: `switches ${delayS.toFixed(1)} s late`, make: (d) => ({ ...d, delayS }) };
    }
    case 'section-control-off':
      return n > 1 ? { setting, says: 'section control off', make: (d) => ({ ...d, control: false }) } : null;
    case 'section-stuck-on': {
      const k = random.int(0, n - 1);
      return n > 1 ? { setting, says: `section ${k + 1} stays on`, make: (d) => ({ ...d, stuckOn: [k] }) } : null;
    }
    case 'section-stuck-off': {
      const k = random.int(0, n - 1);
      return n > 1 ? { setting, says: `section ${k + 1} drops out`, make: (d) => ({ ...d, stuckOff: [k] }) } : null;
    }
    case 'map-repeated': {
      const twice = random.pick(['all', 'half'] as const);
      return { setting, says: `${twice} of the records are in the file twice`, make: (d) => d, file: { twice } };
    }
    case 'map-units':
      return random.chance(0.7)
        ? {
            setting,
            says: 'feet and meters mixed up in the coordinates',
            make: (d) => d,
            file: { scale: random.pick([0.3048, 1 / 0.3048]) },
          }
        : {
            setting,
            says: 'width column in another unit than its name says',
            make: (d) => d,
            file: { widthColumn: 'wrong unit' },
          };
    default:
      return null;
  }
}

/** A sideways step of the whole drawing, from some place on: another offset was entered. */
export function stepAside(random: Random): Wrong {
  const asideM = random.pick([-1, 1]) * random.between(0.15, 0.5);
  return {
    setting: 'changed-midway',
    says: `drawn ${cm(Math.abs(asideM))} further ${asideM > 0 ? 'right' : 'left'}`,
    make: (d) => ({ ...d, asideM }),
  };
}
