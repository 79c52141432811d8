/** How a day goes that is no fault of anybody: log, driving, headlands, steering, drawing, columns. Drawn at random, leaning to what a fault needs to show. */
import type { Setting } from '../../src/core/index.ts';
import type { Driving, Headlands } from './field.ts';
import { type Columns, drawColumns, drawPlace, type Place } from './file.ts';
import type { Random } from './random.ts';
import type { Corners, Grain } from './shapes.ts';
import type { Logger, Steering } from './work.ts';

/** Kinds of recording, by which results are grouped. */
export const KINDS = [
  'sections, cut together',
  'sections, cut one by one',
  'sections, state at the beginning',
  'sections, state at the end',
  'bars',
  'bars of parts',
  'strips',
  'strips of sections',
  'two machines',
  'two plantings',
  'replant',
  'two fields',
] as const;
export type Kind = (typeof KINDS)[number];

export interface Circumstances {
  kind: Kind;
  grain: Grain;
  logger: Logger;
  driving: Driving;
  headlands: Headlands;
  laps: number;
  control: boolean;
  slanted: boolean;
  waterway: boolean;
  lateLift: boolean;
  /** The field is a whole number of passes wide. */
  fits: boolean;
  lookAheadS: number;
  onFrom: number;
  steering: Steering;
  corners: Corners;
  thinM: number;
  place: Place;
  columns: Columns;
  boundaryGiven: boolean;
  passes: number;
  lengthM: number;
}

const ENDS: readonly Setting[] = ['inline-offset', 'switch-delay', 'section-control-off', 'section-stuck-on'];

function grainOf(random: Random, kind: Kind): Grain {
  switch (kind) {
    case 'bars':
      return 'bar';
    case 'bars of parts':
      return 'bar of parts';
    case 'strips':
      return 'strip';
    case 'strips of sections':
      return 'strip of a section';
    case 'two machines':
    case 'replant':
    case 'two fields':
    case 'two plantings':
      return random.weighted<Grain>([
        ['section', 3],
        ['bar', 1],
        ['bar of parts', 1],
      ]);
    default:
      return 'section';
  }
}

function loggerOf(random: Random, kind: Kind): Logger {
  const state: Logger['state'] =
    kind === 'sections, cut together'
      ? 'cut'
      : kind === 'sections, cut one by one'
        ? 'cut section'
        : kind === 'sections, state at the beginning'
          ? 'beginning'
          : kind === 'sections, state at the end'
            ? 'end'
            : random.pick(['cut', 'beginning', 'end']);
  return random.chance(0.6)
    ? { by: 'time', every: random.pick([0.5, 1, 1, 1, 2]), state }
    : { by: 'distance', every: random.pick([1, 1.5, 2, 2.5, 3]), state };
}

export function drawCircumstances(
  random: Random,
  kind: Kind,
  sections: number,
  wanted: readonly Setting[],
  whole: boolean,
): Circumstances {
  const needs = (list: readonly Setting[]): boolean => wanted.some((s) => list.includes(s)) && random.chance(0.9);
  const ends = needs(ENDS);
  const order = needs(['section-order']);
  const alternating = needs(['side-offset']);
  const several = kind === 'two machines' || kind === 'two plantings' || kind === 'replant' || kind === 'two fields';
  const driving: Driving =
    ends || order || several || !whole || alternating
      ? 'back and forth'
      : random.weighted<Driving>([
          ['back and forth', 6],
          ['one way', 1],
          ['every other pass first', 1.5],
          ['round and round', 1],
          ['contours', 1],
        ]);
  const open =
    driving === 'contours' || driving === 'round and round' || kind === 'two machines' || kind === 'two plantings';
  const headlands: Headlands =
    open || order ? 'none' : ends ? 'first' : random.pick(['none', 'first', 'first', 'last']);
  const control =
    ends || order || driving === 'round and round' || (sections > 1 ? random.chance(0.75) : random.chance(0.4));
  const slanted = !open && (order || (control && random.chance(0.35)));
  const columns = drawColumns(random);
  const timed = kind === 'replant' || kind === 'two plantings' || kind === 'two machines';
  if (timed && !columns.names.time) columns.names.time = 'Time';
  if (kind === 'two machines' && random.chance(0.6))
    columns.names.machine = random.pick(['Machine', 'unit', 'VEHICLE']);
  const grain = grainOf(random, kind);
  if (grain !== 'section' && grain !== 'strip of a section') {
    if (columns.names.section && random.chance(0.5)) columns.constantSection = true;
    else delete columns.names.section;
  }
  const shared = grain.startsWith('strip') || random.chance(0.65);
  const tight = random.chance(0.3);
  return {
    kind,
    grain,
    logger: loggerOf(random, kind),
    driving,
    headlands,
    laps: random.pick([1, 1, 2]),
    control,
    slanted,
    waterway: !open && !several && random.chance(0.1),
    lateLift: !control && driving !== 'contours' && headlands !== 'first' && random.chance(0.4),
    fits: !control || random.chance(0.4),
    lookAheadS: random.chance(0.4) ? 0 : random.between(0.1, 1),
    onFrom: random.pick([0.15, 0.5, 0.5, 0.85]),
    steering: {
      biasM: tight ? 0.008 : 0.015,
      wanderM: tight ? 0.008 : 0.018,
      cruiseMs: random.between(1.6, 3),
      speedSpread: random.chance(0.5) ? 1.05 : 1.5,
      endMs: random.between(0.8, 1.5),
      stops: random.chance(0.3) ? 0.15 : 0,
      restarts: random.chance(0.4),
    },
    corners: {
      shared,
      headingDeg: shared ? random.pick([0, 0.1, 0.4]) : random.pick([0.1, 0.3, 0.6]),
      extra: random.weighted([
        [0, 5],
        [1, 1],
        [3, 1],
      ]),
      repeated: random.chance(0.12),
    },
    thinM: random.pick([0, 0.01, 0.02]),
    place: drawPlace(random),
    columns,
    boundaryGiven: driving !== 'contours' && kind !== 'two machines' && kind !== 'two plantings' && random.chance(0.25),
    passes: random.int(6, 11),
    lengthM: random.between(80, 220),
  };
}
