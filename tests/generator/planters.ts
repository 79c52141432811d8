import type { Run, Truth } from './spec.ts';

const every = (rows: number, first: number, step: number): number[] =>
  Array.from({ length: Math.ceil((rows - first + 1) / step) }, (_, i) => first + i * step);

/** All, odd or even rows of a frame. */
export function rowsOf(rows: number, which: 'all' | 'odd' | 'even'): number[] {
  return every(rows, which === 'even' ? 2 : 1, which === 'all' ? 1 : 2);
}

/** Sections written as "1-2 3 4-5". */
export function runs(text: string): Run[] {
  return text.split(' ').map((t) => {
    const [a, b] = t.split('-').map(Number);
    return [a, b ?? a];
  });
}

const INCH = 0.0254;

export interface InventedPlanter {
  file: {
    name: string;
    unit: 'in' | 'cm' | 'm';
    rows: number;
    rowSpacing: number;
    plantings: Record<string, 'all' | 'odd' | 'even'>;
    sections: string[];
    drives: string[];
    offset: { right: number; back: number };
    passSpacing: Record<string, number>;
  };
  /** The planter while it plants `planting`. */
  as(planting: string): Truth;
}

function invented(file: InventedPlanter['file']): InventedPlanter {
  const meter = file.unit === 'in' ? INCH : file.unit === 'cm' ? 0.01 : 1;
  return {
    file,
    as: (planting) => ({
      rows: file.rows,
      rowSpacingM: file.rowSpacing * meter,
      planted: rowsOf(file.rows, file.plantings[planting]),
      sections: runs(file.sections.join(' ')),
      drives: runs(file.drives.join(' ')),
      offsetRightM: file.offset.right * meter,
      offsetBackM: file.offset.back * meter,
    }),
  };
}

const zero = { right: 0, back: 0 };

/** Planters of no maker: odd and even split frames, in inches and in centimeters. Widths are common practice. */
export const PLANTERS = {
  fifteen: invented({
    name: 'Fifteen-row split frame',
    unit: 'in',
    rows: 15,
    rowSpacing: 15,
    plantings: { narrow: 'all', wide: 'odd' },
    sections: ['1-2', '3-4', '5-6', '7', '8-9', '10-11', '12-13', '14-15'],
    drives: ['1-15'],
    offset: zero,
    passSpacing: { narrow: 225, wide: 240 },
  }),
  fifteenRowByRow: invented({
    name: 'Fifteen-row split frame, one section per row',
    unit: 'in',
    rows: 15,
    rowSpacing: 15,
    plantings: { narrow: 'all', wide: 'odd' },
    sections: Array.from({ length: 15 }, (_, i) => String(i + 1)),
    drives: ['1-15'],
    offset: zero,
    passSpacing: { narrow: 225, wide: 240 },
  }),
  twentyThree: invented({
    name: 'Twenty-three-row split frame, two drives',
    unit: 'in',
    rows: 23,
    rowSpacing: 15,
    plantings: { narrow: 'all', wide: 'odd' },
    sections: ['1-2', '3-4', '5-6', '7-8', '9-10', '11', '12-13', '14-15', '16-17', '18-19', '20-21', '22-23'],
    drives: ['1-11', '12-23'],
    offset: zero,
    passSpacing: { narrow: 345, wide: 360 },
  }),
  twentyThreeStraddling: invented({
    name: 'Twenty-three-row split frame, a section across the drives',
    unit: 'in',
    rows: 23,
    rowSpacing: 15,
    plantings: { narrow: 'all', wide: 'odd' },
    sections: ['1-2', '3-4', '5-6', '7-8', '9-10', '11-12', '13', '14-15', '16-17', '18-19', '20-21', '22-23'],
    drives: ['1-11', '12-23'],
    offset: zero,
    passSpacing: { narrow: 345, wide: 360 },
  }),
  twentyFour: invented({
    name: 'Twenty-four-row split frame',
    unit: 'in',
    rows: 24,
    rowSpacing: 15,
    plantings: { narrow: 'all', wide: 'odd' },
    sections: Array.from({ length: 12 }, (_, i) => `${2 * i + 1}-${2 * i + 2}`),
    drives: ['1-12', '13-24'],
    offset: zero,
    passSpacing: { narrow: 360, wide: 360 },
  }),
  sixteen: invented({
    name: 'Sixteen-row frame, 30 in',
    unit: 'in',
    rows: 16,
    rowSpacing: 30,
    plantings: { corn: 'all' },
    sections: ['1-2', '3-4', '5-6', '7-8', '9-10', '11-12', '13-14', '15-16'],
    drives: ['1-8', '9-16'],
    offset: zero,
    passSpacing: { corn: 480 },
  }),
  twelveNarrow: invented({
    name: 'Twelve-row frame, 22 in',
    unit: 'in',
    rows: 12,
    rowSpacing: 22,
    plantings: { beets: 'all' },
    sections: ['1-2', '3-4', '5-6', '7-8', '9-10', '11-12'],
    drives: ['1-6', '7-12'],
    offset: zero,
    passSpacing: { beets: 264 },
  }),
  twelveMetric: invented({
    name: 'Twelve-row frame, 75 cm',
    unit: 'cm',
    rows: 12,
    rowSpacing: 75,
    plantings: { maize: 'all' },
    sections: ['1-2', '3-4', '5-6', '7-8', '9-10', '11-12'],
    drives: ['1-6', '7-12'],
    offset: zero,
    passSpacing: { maize: 900 },
  }),
  seventeenMetric: invented({
    name: 'Seventeen-row split frame, 37.5 cm',
    unit: 'cm',
    rows: 17,
    rowSpacing: 37.5,
    plantings: { beet: 'all', maize: 'odd' },
    sections: ['1-2', '3-4', '5-6', '7-8', '9', '10-11', '12-13', '14-15', '16-17'],
    drives: ['1-17'],
    offset: zero,
    passSpacing: { beet: 637.5, maize: 675 },
  }),
};
