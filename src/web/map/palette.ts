import type { Sign, Weight } from '../../core/report/index.ts';
import type { Rgb } from './gl.ts';

/** Ground and marks of a sign. */
export type SignColors = readonly [ground: Rgb, mark: Rgb];

export interface MapColors {
  /** Every other pass, and within a pass every other section, in turn: as the flags of a point count them. */
  recorded: [Rgb, Rgb, Rgb, Rgb];
  planted: [Rgb, Rgb, Rgb, Rgb];
  edge: Rgb;
  /** Ground that a rebuilt map takes away, and adds. */
  taken: Rgb;
  added: Rgb;
  signs: Record<Sign['fact'], Record<Weight, SignColors>>;
  /** A selection's outline, and the light that sets it off. */
  outline: Rgb;
  halo: Rgb;
  paper: string;
  ink: string;
  seamGap: string;
  seamOverlap: string;
  seamFine: string;
}

/** The map's colors as the style sheet has them now, light or dark. */
export function colorsOf(element: Element): MapColors {
  const style = getComputedStyle(element);
  const text = (name: string): string => style.getPropertyValue(`--${name}`).trim();
  const rgb = (name: string): Rgb => {
    const n = Number.parseInt(text(name).slice(1), 16);
    return [((n >> 16) & 255) / 255, ((n >> 8) & 255) / 255, (n & 255) / 255];
  };
  const [r1, r2] = [rgb('map-recorded'), rgb('map-recorded-2')];
  const [p1, p2] = [rgb('map-planted'), rgb('map-planted-2')];
  return {
    recorded: [r1, r2, rgb('map-recorded-section'), rgb('map-recorded-2-section')],
    planted: [p1, p2, p1, p2],
    edge: rgb('map-edge'),
    taken: rgb('map-missing-mark'),
    added: rgb('map-overlap'),
    signs: {
      gap: {
        setting: [rgb('map-missing'), rgb('map-missing-mark')],
        open: [rgb('map-gap'), rgb('map-gap-mark')],
        usual: [rgb('map-gap'), rgb('map-seam-fine')],
      },
      overlap: {
        setting: [rgb('map-overlap'), rgb('map-overlap-mark')],
        open: [rgb('map-overlap'), rgb('map-gap-mark')],
        usual: [rgb('map-overlap'), rgb('map-seam-fine')],
      },
    },
    outline: rgb('ink'),
    halo: rgb('map-paper'),
    paper: text('map-paper'),
    ink: text('ink'),
    seamGap: text('map-missing-mark'),
    seamOverlap: text('map-overlap-mark'),
    seamFine: text('map-seam-fine'),
  };
}

/** Shade between two others. */
export function between(a: Rgb, b: Rgb): Rgb {
  return [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2, (a[2] + b[2]) / 2];
}
