import { drawField } from './index.ts';
import { type InventedPlanter, PLANTERS, rowsOf, runs } from './planters.ts';
import type { DrawnField, FieldSpec } from './spec.ts';
import { workTogether } from './together.ts';

export interface SampleMap {
  file: string;
  /** EPSG code when the map is written as a zipped shapefile; GeoJSON otherwise. */
  epsg?: number;
  draw(): DrawnField;
}

export interface SampleField {
  id: string;
  title: string;
  /** One line: what happened in this field and what to look at. */
  about: string;
  planter: InventedPlanter;
  planting: string;
  maps: SampleMap[];
  verdict: 'agrees' | 'differs';
  /** Settings that the diagnoses must name, the leading one first. */
  settings: string[];
}

const INCH = 0.0254;

/** An invented farm: its fields lie side by side in open country, under no real name. */
const FARM = { lat: 41.903, lon: -93.584 };

function spec(
  planter: InventedPlanter,
  planting: string,
  rest: Omit<FieldSpec, 'origin' | 'truth' | 'passSpacingM'> & { passSpacingIn?: number; east: number; north: number },
): FieldSpec {
  const { passSpacingIn, east, north, ...own } = rest;
  const spacing = passSpacingIn ?? planter.file.passSpacing[planting];
  return {
    origin: { lat: FARM.lat + north, lon: FARM.lon + east },
    truth: planter.as(planting),
    passSpacingM: spacing * INCH,
    noise: { wanderM: 0.02, passBiasM: 0.01 },
    ...own,
  };
}

const SAMPLES: SampleField[] = [
  {
    id: 'healthy-field',
    title: 'North bottom: a field that was recorded right',
    about:
      'Twenty-three rows at 15 in, two drives, every row planted. Headlands, a curve, point rows and section control: the map agrees with the planter.',
    planter: PLANTERS.twentyThree,
    planting: 'narrow',
    verdict: 'agrees',
    settings: [],
    maps: [
      {
        file: 'north-bottom.geojson',
        draw: () =>
          drawField(
            spec(PLANTERS.twentyThree, 'narrow', {
              seed: 101,
              speedMPerS: 2.5,
              east: 0,
              north: 0,
              headingDeg: 8,
              shape: {
                kind: 'field',
                lengthM: 225,
                widthM: 140,
                headlandLaps: 2,
                curve: { amplitudeM: 4, wavelengthM: 330 },
                pointRowsDeg: 9,
              },
              noise: { wanderM: 0.018, passBiasM: 0.008 },
              columns: {
                time: { name: 'logged_at', as: 'iso' },
                section: { name: 'sec' },
                width: { name: 'swath_ft', unit: 'ft' },
                rate: { name: 'seeds_ac', mean: 140_000, sd: 900 },
              },
            }),
          ),
      },
    ],
  },
  {
    id: 'narrow-as-wide',
    title: 'Creek eighty: narrow planting recorded as wide',
    about:
      'Fifteen rows planted at 15 in; the display was left on eight rows at 30 in and steered 20 ft. The recorded map has no gap, the ground has 30 in at every guess row.',
    planter: PLANTERS.fifteen,
    planting: 'narrow',
    verdict: 'differs',
    settings: ['planted-rows'],
    maps: [
      {
        file: 'creek-eighty.geojson',
        draw: () =>
          drawField(
            spec(PLANTERS.fifteen, 'narrow', {
              seed: 202,
              east: 0.009,
              north: 0,
              headingDeg: 91,
              passSpacingIn: 240,
              belief: { planted: rowsOf(15, 'odd') },
              shape: { kind: 'field', lengthM: 260, widthM: 120, headlandLaps: 2 },
              columns: {
                time: { name: 'logged_at', as: 'iso' },
                section: { name: 'sec' },
                width: { name: 'swath_ft', unit: 'ft' },
              },
            }),
          ),
      },
    ],
  },
  {
    id: 'wide-one-section-per-row',
    title: 'Lane field: every frame row is a section, every other row plants',
    about:
      'Eight rows at 30 in planted with fifteen one-row sections: the seven idle sections leave regular empty strips on every pass.',
    planter: PLANTERS.fifteenRowByRow,
    planting: 'wide',
    verdict: 'differs',
    settings: ['section-idle', 'declared-layout'],
    maps: [
      {
        file: 'lane-field.geojson',
        draw: () =>
          drawField(
            spec(PLANTERS.fifteenRowByRow, 'wide', {
              seed: 303,
              east: 0,
              north: 0.006,
              headingDeg: 2,
              belief: { sectionsBy: 'physical' },
              shape: { kind: 'field', lengthM: 240, widthM: 107.5, headlandLaps: 1, pointRowsDeg: 14 },
              columns: { time: { name: 'time_s', as: 'seconds' }, section: { name: 'row_sect' } },
            }),
          ),
      },
    ],
  },
  {
    id: 'other-pass-spacing',
    title: 'Windbreak forty: steered at the pass spacing of the other planting',
    about:
      'Fifteen rows at 15 in recorded right at 18 ft 9 in, but steered 20 ft apart: 15 in stay open at every seam. A zipped shapefile in UTM meters.',
    planter: PLANTERS.fifteen,
    planting: 'narrow',
    verdict: 'differs',
    settings: ['pass-spacing'],
    maps: [
      {
        file: 'windbreak-forty.zip',
        epsg: 32615,
        draw: () =>
          drawField(
            spec(PLANTERS.fifteen, 'narrow', {
              seed: 404,
              east: 0.009,
              north: 0.006,
              headingDeg: 358,
              passSpacingIn: 240,
              shape: {
                kind: 'field',
                lengthM: 230,
                widthM: 115,
                headlandLaps: 2,
                curve: { amplitudeM: 3, wavelengthM: 300 },
              },
              columns: {
                time: { name: 'LOGGED', as: 'local' },
                section: { name: 'SECT' },
                width: { name: 'SWATH_IN', unit: 'in' },
              },
            }),
          ),
      },
    ],
  },
  {
    id: 'across-drives',
    title: 'Hilltop: a section across the drive line',
    about: 'Twenty-three rows on two drives; section 11-12 straddles them and its strip is missing on every pass.',
    planter: PLANTERS.twentyThreeStraddling,
    planting: 'narrow',
    verdict: 'differs',
    settings: ['section-across-drives', 'section-stuck-off', 'declared-layout'],
    maps: [
      {
        file: 'hilltop.geojson',
        draw: () =>
          drawField(
            spec(PLANTERS.twentyThreeStraddling, 'narrow', {
              seed: 505,
              east: 0,
              north: 0.012,
              headingDeg: 27,
              belief: { acrossDrives: 'missing' },
              shape: { kind: 'field', lengthM: 280, widthM: 140, headlandLaps: 2, pointRowsDeg: 6 },
              columns: {
                time: { name: 'epoch_ms', as: 'epoch-ms' },
                section: { name: 'section', firstIs: 0 },
                heading: { name: 'course_deg' },
              },
            }),
          ),
      },
    ],
  },
];

const twoMachines = (machine: 1 | 2): DrawnField =>
  drawField(
    spec(PLANTERS.sixteen, 'corn', {
      seed: 707 + machine,
      speedMPerS: 2.6,
      east: 0.018,
      north: 0,
      headingDeg: 1,
      // The second display was left on twelve rows; both were steered at the width of sixteen.
      ...(machine === 2
        ? { belief: { rows: 12, planted: rowsOf(12, 'all'), sections: runs('1-2 3-4 5-6 7-8 9-10 11-12') } }
        : {}),
      shape: { kind: 'field', lengthM: 300, widthM: 170, headlandLaps: 1 },
      columns: { time: { name: 'logged_at', as: 'epoch-ms' }, section: { name: 'sec' } },
    }),
  );

SAMPLES.push(
  {
    id: 'two-machines',
    title: 'County line: two planters in one field',
    about:
      'Two sixteen-row planters worked side by side. The display of the second was left on twelve rows: 10 ft stay open on the map at each of its seams, while the first agrees.',
    planter: PLANTERS.sixteen,
    planting: 'corn',
    verdict: 'differs',
    settings: ['frame-rows'],
    maps: [
      {
        file: 'county-line.geojson',
        draw: () =>
          workTogether(
            [
              { name: 'Planter 1', drawn: twoMachines(1), drives: (p) => (p.line ?? -1) < 7, startsMs: 0 },
              { name: 'Planter 2', drawn: twoMachines(2), drives: (p) => (p.line ?? -1) >= 7, startsMs: 420_000 },
            ],
            'logged_at',
            'machine',
          ),
      },
    ],
  },
  {
    id: 'fewer-rows-midway',
    title: 'Slough field: two rows lost in mid-field',
    about:
      'Twelve rows at 22 in. From the eighth pass on the display records ten of them: 44 in stay open at each seam, and the seed in that ground is on no map.',
    planter: PLANTERS.twelveNarrow,
    planting: 'beets',
    verdict: 'differs',
    settings: ['changed-midway'],
    maps: [
      {
        file: 'slough-field.geojson',
        draw: () =>
          drawField(
            spec(PLANTERS.twelveNarrow, 'beets', {
              seed: 808,
              east: 0.018,
              north: 0.006,
              headingDeg: 96,
              change: {
                pass: 8,
                belief: { rows: 10, planted: rowsOf(10, 'all'), sections: runs('1-2 3-4 5-6 7-8 9-10') },
              },
              shape: { kind: 'strip', lengthM: 260, passes: 12 },
              columns: {
                time: { name: 'logged_at', as: 'iso' },
                section: { name: 'sec' },
                width: { name: 'swath_ft', unit: 'ft' },
              },
            }),
          ),
      },
    ],
  },
);

const strips = (seed: number, wrong: boolean): FieldSpec =>
  spec(PLANTERS.fifteen, 'narrow', {
    seed,
    east: 0.009,
    north: 0.012,
    headingDeg: 90,
    ...(wrong ? { passSpacingIn: 240, belief: { planted: rowsOf(15, 'odd') } } : {}),
    shape: { kind: 'strip', lengthM: 120, passes: 4 },
    columns: {
      time: { name: 'logged_at', as: 'iso' },
      section: { name: 'sec' },
      width: { name: 'swath_ft', unit: 'ft' },
    },
  });

/** The wrong strip and the strip after the correction are checked separately and compared with each other. */
const stripSample = (id: string, title: string, about: string, file: string, wrong: boolean): SampleField => ({
  id,
  title,
  about,
  planter: PLANTERS.fifteen,
  planting: 'narrow',
  verdict: wrong ? 'differs' : 'agrees',
  settings: wrong ? ['planted-rows'] : [],
  maps: [{ file, draw: () => drawField(strips(wrong ? 606 : 607, wrong)) }],
});

SAMPLES.push(
  stripSample(
    'test-strips-before',
    'Yard strips, before',
    'Four short passes with the display still on eight rows at 30 in.',
    'before.geojson',
    true,
  ),
  stripSample(
    'test-strips-after',
    'Yard strips, after',
    'Four short passes after the planted rows were entered as they run: compare with the strips before.',
    'after.geojson',
    false,
  ),
);

export { SAMPLES };
