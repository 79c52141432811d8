import type { Rgb } from './gl.ts';
import type { Palette } from './layer.ts';

export interface MapColours extends Palette {
  paper: string;
  ink: string;
  seamGap: string;
  seamOverlap: string;
  seamFine: string;
  chosen: string;
}

/** The map's colours as the style sheet has them now, light or dark. */
export function coloursOf(element: Element): MapColours {
  const style = getComputedStyle(element);
  const text = (name: string): string => style.getPropertyValue(`--${name}`).trim();
  const rgb = (name: string): Rgb => {
    const n = Number.parseInt(text(name).slice(1), 16);
    return [((n >> 16) & 255) / 255, ((n >> 8) & 255) / 255, (n & 255) / 255];
  };
  return {
    recorded: [rgb('map-recorded'), rgb('map-recorded-2')],
    planted: rgb('map-planted'),
    edge: rgb('map-edge'),
    gap: [rgb('map-gap'), rgb('map-gap-mark')],
    overlap: [rgb('map-overlap'), rgb('map-overlap-mark')],
    missing: [rgb('map-missing'), rgb('map-missing-mark')],
    marked: rgb('map-marked'),
    paper: text('map-paper'),
    ink: text('ink'),
    seamGap: text('map-missing-mark'),
    seamOverlap: text('map-overlap-mark'),
    seamFine: text('map-seam-fine'),
    chosen: text('ink'),
  };
}
