/**
 * Whether a drawn map can show what is wrong with it, told from how it was drawn and never from what the check says. A fault leaves no
 * trace when the display would have recorded the same bands without it, records the very bands of a likelier setting, comes after
 * the last pass, or is smaller than the wandering of the passes; and the design decides nothing below 30 bars, 50 m or three seams.
 */
import { believe } from '../generator/display.ts';
import type { Belief, DrawnField } from '../generator/spec.ts';
import { drawnStrips, plantedReach } from '../generator/toolbar.ts';
import type { Drawn } from './calibrate-draw.ts';

const FEWEST_BARS = 30;
const LEAST_TRAVEL_M = 50;
/** Bands that differ by less than this are the same, metres: two corners of the file. */
const SAME_M = 0.045;
/** A fault smaller than this many standard errors of what the passes say is not seen. */
const SIGMAS = 3.5;

/** Why the map cannot show its fault, or null when it can. A map without a fault always can. */
export function untraceable(d: Drawn, field: DrawnField): string | null {
  const { spec, fault } = d;
  const { truth } = field;
  if (fault === null || fault === 'map-repeated' || fault === 'map-units' || fault === 'declared-layout') return null;
  if (truth.bars < FEWEST_BARS || truth.travelM < LEAST_TRAVEL_M) return 'short';
  const whole = (spec.grain ?? 'section') !== 'section';
  const bands = (b: Belief): number[] => {
    const strips = drawnStrips(b);
    const middle = (strips[0].leftM + strips[strips.length - 1].rightM) / 2;
    const edges = whole
      ? [strips[0].leftM, strips[strips.length - 1].rightM]
      : strips.flatMap((s) => [s.leftM, s.rightM]);
    return edges.map((e) => e - middle);
  };
  const alike = (a: number[], b: number[]): boolean =>
    a.length === b.length && a.every((v, i) => Math.abs(v - b[i]) < SAME_M);
  const honest = bands(spec.truth);
  const interior =
    spec.shape.kind === 'strip' ? spec.shape.passes : truth.passes.filter((p) => p.kind === 'interior').length;
  const barM = spec.speedMPerS! / spec.hz!;
  const [left, right] = plantedReach(spec.truth);
  switch (fault) {
    case 'planted-rows':
    case 'frame-as-wide':
    case 'frame-rows':
    case 'row-spacing':
    case 'section-rows':
    case 'sections-merged':
    case 'section-idle':
    case 'section-across-drives': {
      const drawn = bands(believe(spec));
      if (alike(drawn, honest)) return 'same bands';
      const file = JSON.parse(d.planter) as { plantings: Record<string, string> };
      const twin =
        'wide' in file.plantings &&
        alike(
          drawn,
          bands({
            ...spec.truth,
            planted:
              spec.truth.planted.length < spec.truth.rows ? every(spec.truth.rows, 1) : every(spec.truth.rows, 2),
          }),
        );
      // On an even frame, a frame of its wide rows cuts where some of the declared sections end.
      const merged =
        fault === 'frame-as-wide' &&
        !whole &&
        drawn.length < honest.length &&
        drawn.every((e) => honest.some((h) => Math.abs(h - e) < SAME_M));
      if (merged) return 'bands of sections-merged';
      // In records of the whole width these two always look alike, and are both named.
      const pair = whole && fault === 'frame-as-wide';
      return twin && fault !== 'planted-rows' && !pair ? 'bands of planted-rows' : null;
    }
    case 'changed-midway': {
      const c = spec.change!;
      const from = truth.pass.findIndex((p) => p >= c.pass);
      if (from < 0) return 'after the last pass';
      const bars = new Set<number>();
      const before = new Set<number>();
      let nth = -1;
      let seen = 0;
      truth.bar.forEach((b, i) => {
        if (truth.pass[i] < c.pass) before.add(b);
        else if (truth.pass[i] > c.pass) bars.add(b);
        else {
          if (b !== nth) {
            nth = b;
            seen++;
          }
          (seen < (c.bar ?? 0) ? before : bars).add(b);
        }
      });
      if (before.size < FEWEST_BARS || bars.size < FEWEST_BARS) return 'too late in the map';
      // In records of the whole width, one pass that is narrower may as well be a pass with sections off.
      const last = Math.max(...truth.pass);
      if (whole && Math.min(c.pass - 1, last - c.pass + 1) < 2) return 'one pass of whole bars';
      return alike(bands(believe(spec, c.belief)), bands(believe(spec))) ? 'same bands' : null;
    }
    case 'pass-spacing': {
      if (interior < 4) return 'too few seams';
      const off = Math.abs(spec.passSpacingM - (right - left));
      return off * Math.sqrt(interior - 1) < SIGMAS * 1.5 * d.noiseM ? 'lost in the noise' : null;
    }
    case 'side-offset': {
      if (interior < 5) return 'too few seams';
      return 2 * Math.abs(spec.sideShiftM!) * Math.sqrt(interior - 1) < SIGMAS * 2 * d.noiseM
        ? 'lost in the noise'
        : null;
    }
    case 'inline-offset':
    case 'switch-delay':
      return interior < 5 ? 'too few ends' : null;
    case 'section-order': {
      if (interior < 5) return 'too few ends';
      const slant = Math.tan((((spec.shape.kind === 'field' && spec.shape.pointRowsDeg) || 0) * Math.PI) / 180);
      return slant * (right - left) < 2 * barM ? 'slants below a log interval' : null;
    }
    case 'section-control-off':
    case 'section-stuck-on':
      return interior < 4 ? 'too few ends' : null;
    case 'section-stuck-off':
      return null;
    default:
      return null;
  }
}

const every = (rows: number, step: number): number[] =>
  Array.from({ length: rows }, (_, i) => i + 1).filter((r) => (r - 1) % step === 0);
