import type { Answer, Evidence } from '../../src/core/answer.ts';
import type { Polygons } from '../../src/core/coverage/index.ts';
import type { Shapes } from '../../src/core/geometry/shapes.ts';
import { layoutOf, runName } from '../../src/core/planter/index.ts';
import { INCH_M } from '../../src/core/planter/units.ts';
import { fifteen } from '../planter/frames.ts';

type Ring = [number, number][];

/** Shapes from rings of lattice steps; a ring's first point is not repeated. */
export function shapesOf(list: Ring[][]): Shapes {
  const rings = list.flat();
  const ringStart = [0];
  for (const r of rings) ringStart.push(ringStart[ringStart.length - 1] + r.length);
  const shapeStart = [0];
  for (const s of list) shapeStart.push(shapeStart[shapeStart.length - 1] + s.length);
  return {
    xy: Int32Array.from(rings.flat(2)),
    ringStart: Uint32Array.from(ringStart),
    shapeStart: Uint32Array.from(shapeStart),
  };
}

function polygonsOf(list: Ring[][]): Polygons {
  const s = shapesOf(list);
  return { xy: Float64Array.from(s.xy), ringStart: s.ringStart, polygonStart: s.shapeStart };
}

export const square = (x: number, y: number, size: number): Ring => [
  [x, y],
  [x + size, y],
  [x + size, y + size],
  [x, y + size],
];
/** A ring the other way round. */
export const turned = (r: Ring): Ring => [...r].reverse();

function evidence(): Evidence {
  const lattice = { stepsPerDegree: 1e7, originX: -936_000_000, originY: 420_000_000 };
  return {
    lattice,
    density: [1, 0, 0, 0],
    // A plain record, one with a hole, one in two parts of which the second has a hole, one that was in no pass.
    records: shapesOf([
      [square(0, 0, 100)],
      [square(200, 0, 100), turned(square(220, 20, 20))],
      [square(400, 0, 50), square(500, 0, 100), turned(square(520, 20, 20))],
      [square(-7, 13, 3)],
    ]),
    recordNumber: Uint32Array.of(1, 2, 3, 5),
    machines: ['machine 1'],
    recordPass: Uint32Array.of(1, 1, 2, 0),
    recordBar: Int32Array.of(0, 1, 2, -1),
    recordSection: Int16Array.of(0, 1, 0, -1),
    recordWidthM: Float32Array.of(0.762, 0.762, 6.096, Number.NaN),
    planted: shapesOf([[square(1, 2, 30)]]),
    plantedLattice: { stepsPerDegree: 1e9, originX: -93_600_000_000, originY: 42_000_000_000 },
    plantedPass: new Uint32Array(0),
    plantedApart: false,
    covered: polygonsOf([[square(0, 0, 600)]]),
    overlap: polygonsOf([[square(0, 0, 10)]]),
    gaps: polygonsOf([[square(100, 0, 100), turned(square(120, 20, 10))]]),
    account: [polygonsOf([[square(100, 0, 100), turned(square(120, 20, 10))]])],
    boundary: [],
    passes: [
      {
        number: 1,
        bars: 2,
        lengthM: 201.1684,
        headingDeg: 359.96,
        recordedWidthM: 6.096,
        startMs: 1777622400000,
        endMs: 1777622513500,
        track: Float64Array.of(50, 0, 50, 100, 50, 200),
      },
      {
        number: 2,
        bars: 1,
        lengthM: 0.9,
        headingDeg: 180,
        recordedWidthM: 6.096,
        startMs: null,
        endMs: null,
        track: Float64Array.of(450, 100),
      },
    ],
    seams: [
      { passA: 1, passB: 2, opposite: true, facing: 'right-right', recordedM: -0.00002, plantedM: 0.381, samples: 40 },
    ],
    stepsPerMeter: [120.7, 90.0],
  };
}

/** A 15-row frame that planted every row while its display recorded and steered the eight wide rows: made by hand, no map behind it. */
export function wideForNarrow(): Answer {
  const planter = fifteen();
  const layout = layoutOf(planter, 'narrow');
  const wide = layoutOf(planter, 'wide');
  return {
    planter,
    ruleBreaks: [],
    evidence: evidence(),
    report: {
      report: 'guessrow/1',
      verdict: 'differs',
      says: 'The map differs from the planter as declared ("narrow", 15 rows, 18.75 ft (225 in)): look at the rows that plant.',
      wouldDecide: [],
      map: {
        source: 'north-forty.geojson',
        format: 'geojson',
        grain: 'section',
        records: 12_431,
        used: 12_428,
        setAside: [{ reason: 'no area', count: 3, firstRecord: 4_017 }],
        passes: 24,
        bars: 1_554,
        travelM: 4_828.032,
        columns: {
          time: { name: 'Time', evidence: 'rises along every pass, 12,404 of 12,404 steps' },
          width: { name: 'Width', evidence: 'matches the across edges of 12,428 of 12,428 records', unit: 'ft' },
        },
        travelFrom: 'time',
        unplaced: { records: 0, areaM2: 0, share: 0, largest: null },
      },
      machines: [],
      declared: {
        planter: planter.name,
        planting: 'narrow',
        plantingFound: false,
        frameRows: 15,
        plantedRows: 15,
        rowSpacingM: 0.381,
        workingWidthM: layout.workingWidthM,
        centerM: 0,
        passSpacingM: 5.715,
        seedCostPerHa: null,
        sections: planter.sections.map((s, i) => ({ rows: runName(s), ...layout.sectionBands[i]! })),
      },
      recorded: {
        workingWidthM: 6.09604,
        workingWidthCi95M: [6.0951, 6.09698],
        sections: wide.sectionBands.map((b) => ({ ...b! })),
        bestFit: { rows: 8, rowSpacingM: 0.762, planting: 'wide', confidence: 0.993, says: 'planted-rows' },
        alternatives: [{ rows: 8, rowSpacingM: 0.762, planting: 'wide', confidence: 0.007, says: 'frame-as-wide' }],
        sameWidth: [],
      },
      seams: {
        count: 23,
        medianM: 0,
        recordedM: 0.0001,
        plantedM: 0.3811,
        guessRowM: 30 * INCH_M,
        alternatingM: 0.00002,
        accuracyM: 0.025,
        toleranceM: 0.05,
      },
      area: {
        recordedM2: 29_450.1234,
        coveredM2: 29_430.5,
        overlapM2: 19.6,
        gapM2: 0,
        plantedM2: 27_591.2,
        residual: 3.21e-12,
      },
      account: [
        {
          fact: 'gap',
          picture: 'recorded',
          areaM2: 400,
          lengthM: 40,
          widthM: [10, 10],
          passes: [1, 2],
          cause: 'unexplained',
          confidence: 1,
          excessM2: 0,
          says: '0.099 ac open in passes 1-2, 393.7 in wide: no setting explains it.',
        },
      ],
      ifPlanted: [],
      observations: [
        {
          id: 'o1',
          kind: 'width',
          says: 'The recorded width is 20 ft (240 in) where 18.75 ft (225 in) is declared.',
          measuredM: 6.09604,
          expectedM: 5.715,
          n: 1_402,
          share: 0.90219,
          passes: [3, 1, 2, 5],
        },
        {
          id: 'o2',
          kind: 'seam',
          says: 'Guess rows on the ground are 30 in where 15 in is meant.',
          measuredM: 0.762,
          expectedM: 0.381,
          n: 23,
          share: 1,
          passes: [],
        },
        {
          id: 'o3',
          kind: 'end-overlap',
          says: 'Passes run 3 in into the headland.',
          measuredM: 0.0762,
          expectedM: 0,
          n: 40,
          share: 0.8,
          passes: [4],
        },
      ],
      diagnoses: [
        {
          setting: 'planted-rows',
          confidence: 0.993,
          says: 'The display recorded and steered the 8 rows of planting "wide", 30 in apart, while every one of the 15 rows planted.',
          check:
            'Look at the crop or planting chosen on the display: all 15 rows must run at 15 in. Dig across one guess row: 30 in from row to row confirms it.',
          because: ['o1', 'o2'],
          effect: {
            acreCountPct: 6.6667,
            unplantedM2: 1_839.3,
            doubledM2: 0,
            populationFactor: 0.9375,
            seedCost: null,
          },
        },
      ],
      notes: [
        {
          code: 'offsets-silent',
          sentence: 'A map without alternating seams does not prove that the offsets are right.',
          place: {},
          todo: 'Measure them on the machine.',
        },
      ],
      cautions: [
        'This tool reads recorded data. It cannot see seed: confirm by digging behind at least one row of each section.',
      ],
    },
  };
}

/** What little is left when a map is joined across passes. */
export function undecidedBlob(): Answer {
  const a = wideForNarrow();
  const r = a.report;
  return {
    ...a,
    report: {
      ...r,
      verdict: 'undecided',
      says: 'Undecided: the map is joined across passes, so only covered ground can be told.',
      wouldDecide: ['An export of the same map with one polygon for each section and log interval.'],
      map: {
        ...r.map,
        grain: 'blob',
        format: 'shapefile',
        passes: 0,
        bars: 0,
        travelM: 0,
        columns: {},
        travelFrom: 'unknown',
        setAside: [],
      },
      recorded: {
        workingWidthM: null,
        workingWidthCi95M: null,
        sections: [],
        bestFit: null,
        alternatives: [],
        sameWidth: [],
      },
      seams: {
        ...r.seams,
        count: 0,
        medianM: null,
        recordedM: null,
        plantedM: null,
        guessRowM: null,
        alternatingM: null,
      },
      area: { ...r.area, plantedM2: null, residual: 0 },
      account: [],
      ifPlanted: [],
      observations: [],
      diagnoses: [],
    },
  };
}

/** Text as no map should hold it, in every place that a map or a planter file fills. */
export function hostile(): Answer {
  const a = wideForNarrow();
  const bad = '\u001B[31m=cmd()\u0007\n\u202Eevil\u2028';
  const r = a.report;
  return {
    ...a,
    planter: { ...a.planter, name: bad },
    report: {
      ...r,
      map: {
        ...r.map,
        source: bad,
        setAside: [{ reason: bad, count: 1, firstRecord: 1 }],
        columns: { time: { name: bad, evidence: bad, unit: bad } },
      },
      declared: {
        ...r.declared,
        planter: bad,
        planting: bad,
        sections: r.declared.sections.map((s) => ({ ...s, rows: bad })),
      },
      recorded: { ...r.recorded, bestFit: { ...r.recorded.bestFit!, planting: bad } },
      notes: [{ code: 'x', sentence: bad, place: { file: bad, key: bad }, todo: bad }],
      diagnoses: r.diagnoses.map((d) => ({ ...d, says: bad, check: bad })),
    },
  };
}
