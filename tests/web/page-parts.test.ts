import { execFileSync } from 'node:child_process';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { Evidence, Report } from '../../src/core/answer.ts';
import { gapOr, joinEdges, lengthOr, seamLines, shareText, signedGap } from '../../src/core/report/index.ts';
import { buffersOf } from '../../src/core/shared/buffers.ts';
import { commandLine } from '../../src/web/command.ts';
import { mapsOf, planterNotUsed, sortFiles, stem } from '../../src/web/files.ts';
import { meshShapes, meshSome, ringEdges } from '../../src/web/map/mesh.ts';
import { makePicker } from '../../src/web/map/pick.ts';
import { lngLat, mercator, offsets, steps, UNITS } from '../../src/web/map/place.ts';
import { readList } from '../../src/web/samples.ts';
import { readState } from '../../src/web/state/index.ts';
import { changeAt, packChanges, unpackChanges } from '../../src/worker/changes.ts';

describe('the change log of a rebuilt map', () => {
  test('comes to the page in columns and is the same there, line by line', () => {
    const number = fc.option(fc.double({ noNaN: true, noDefaultInfinity: true }));
    const words = fc.option(fc.constantFrom('', '1-2', '3', 'North\n2'));
    const area = fc.double({ noNaN: true, noDefaultInfinity: true });
    const change = fc.record({
      output: fc.option(fc.nat()),
      done: fc.constantFrom('kept' as const, 'moved' as const, 'removed' as const),
      why: fc.string(),
      from: fc.string(),
      pass: fc.option(fc.nat()),
      section: words,
      planter: words,
      wasWidthM: number,
      widthM: number,
      inM2: area,
      cutM2: area,
      outM2: area,
      differenceM2: area,
    });
    fc.assert(
      fc.property(fc.array(change, { maxLength: 30 }), (changes) => {
        const packed = packChanges(changes);
        expect(unpackChanges(packed)).toEqual(changes);
        changes.forEach((c, i) => {
          expect(changeAt(packed, i)).toEqual(c);
        });
      }),
      { numRuns: 100, seed: 19 },
    );
  });
});

describe('the command line to copy', () => {
  const run = {
    mapNames: ['field.geojson'],
    beforeNames: [],
    boundaryNames: [],
    planterName: 'p.planter.json',
    machines: [],
    planting: '',
    columns: {},
    layer: '',
    crs: '',
    dates: '',
    where: '',
    seedCost: '',
  };

  test('is read back by a shell word for word', () => {
    // The shell is the outside judge: it must hand a program exactly these words.
    fc.assert(
      fc.property(fc.stringMatching(/^[ -~äöü]{1,20}$/), (name) => {
        const line = commandLine({ ...run, mapNames: [name], planting: `${name}'` });
        const words = execFileSync('/bin/sh', ['-c', `printf '%s\\n' ${line}`], { encoding: 'utf8' }).split('\n');
        expect(words).toEqual([
          'guessrow',
          'check',
          name.startsWith('-') ? `./${name}` : name,
          '--planter',
          'p.planter.json',
          '--planting',
          `${name}'`,
          '',
        ]);
      }),
      { numRuns: 40, seed: 20260401 },
    );
  });

  test('names the .shp of loose parts, and every column', () => {
    const line = commandLine({
      ...run,
      mapNames: ['a.dbf', 'a.shp', 'a.prj'],
      boundaryNames: ['edge.zip'],
      columns: { width: 'swath', time: 'when at' },
      seedCost: '95/ac',
    });
    expect(line).toBe(
      "guessrow check a.shp --planter p.planter.json --boundary edge.zip --columns width=swath --columns 'time=when at' --seed-cost 95/ac",
    );
  });

  test('names each machine with its own planter, of a check and of a comparison', () => {
    const machines = [
      { machine: 'North 2', planterName: 'two.planter.json', planting: 'wide' },
      { machine: 'South', planterName: 'three.planter.json', planting: '' },
    ];
    const own =
      "--planter p.planter.json --planter 'North 2=two.planter.json' --planter South=three.planter.json --planting corn --planting 'North 2=wide'";
    const both = { ...run, mapNames: ['a.geojson'], planting: 'corn', machines };
    expect(commandLine(both)).toBe(`guessrow check a.geojson ${own}`);
    expect(commandLine({ ...both, beforeNames: ['b.geojson'] })).toBe(`guessrow compare b.geojson a.geojson ${own}`);
  });
});

describe('files', () => {
  test('planter files are distinguished from maps by name or by what only they hold', async () => {
    const geo = new File(['{"type":"FeatureCollection","features":[],"rowSpacing":1}'], 'map.json');
    const named = new File(['{}'], 'north.planter.json');
    const plain = new File(['{"rows": 4, "rowSpacing" : 30}'], 'north.json');
    expect(await sortFiles([geo, named])).toEqual({ map: [geo], planter: named, others: [], unused: [] });
    expect(await sortFiles([geo, plain])).toEqual({ map: [geo], planter: plain, others: [], unused: [] });
    expect(await sortFiles([new File([''], 'a.shp')])).toMatchObject({ planter: null });
  });

  test('a file that is neither map nor planter, or one too many, is reported by its name', async () => {
    const file = (name: string, bytes = ''): File => new File([bytes], name);
    const sorted = async (...all: File[]): Promise<[string[], string | undefined, string[]]> => {
      const { map, planter, unused } = await sortFiles(all);
      return [map.map((f) => f.name), planter?.name, unused];
    };
    const [map, planter] = [file('a.geojson'), file('p.planter.json')];
    expect(await sorted(map, planter, file('README.md'))).toEqual([
      ['a.geojson'],
      'p.planter.json',
      ['"README.md" was not used: it is neither a map nor a planter file.'],
    ]);
    expect(await sorted(planter, map, file('q.planter.json'))).toEqual([['a.geojson'], 'q.planter.json', []]);
    expect((await sortFiles([planter, map, file('q.planter.json')])).others).toEqual([planter]);
    expect(planterNotUsed(planter, file('q.planter.json'))).toMatch(
      /^"p\.planter\.json" was not used: .* "q\.planter\.json" came last\.$/,
    );
    expect(await sorted(file('a.shp'), file('A.DBF'), file('b.dbf'), file('about.json'))).toEqual([
      ['a.shp', 'A.DBF'],
      undefined,
      [
        expect.stringMatching(/^"b\.dbf" was not used: no \.shp/),
        expect.stringMatching(/^"about\.json" was not used: /),
      ],
    ]);
    // Told by its first bytes; and what is all there is goes to the reader of maps, which says what is wrong with it.
    expect(await sorted(file('export.txt', '{"type":"FeatureCollection"}'), file('notes'))).toEqual([
      ['export.txt'],
      undefined,
      ['"notes" was not used: it is neither a map nor a planter file.'],
    ]);
    expect(await sorted(file('field.kml', '<kml>'), planter)).toEqual([['field.kml'], 'p.planter.json', []]);
    expect(await sorted(file('a.dbf'), file('a.prj'))).toEqual([['a.dbf', 'a.prj'], undefined, []]);
  });

  test('files are grouped by the map that they belong to', () => {
    const names = (...all: string[]): string[][] =>
      mapsOf(all.map((n) => new File([''], n))).map((m) => m.map((f) => f.name));
    expect(names('a.geojson', 'b.zip')).toEqual([['a.geojson'], ['b.zip']]);
    expect(names('A.shp', 'a.DBF', 'b.dbf', 'b.shp', 'b.prj')).toEqual([
      ['A.shp', 'a.DBF'],
      ['b.dbf', 'b.shp', 'b.prj'],
    ]);
    expect(names('a.shp', 'a.dbf', 'about.json')).toEqual([['a.shp', 'a.dbf', 'about.json']]);
    expect(names('a.json', 'b.json')).toHaveLength(2);
    expect(names()).toEqual([]);
  });

  test('a stem is the name without its endings', () => {
    expect([stem('north.planter.json'), stem('a.b.geojson'), stem('')]).toEqual(['north', 'a.b', 'field']);
  });

  test('samples that cannot be opened are left out of the list', () => {
    const good = { id: 'a', title: 'A', about: 'x', map: ['a.zip'], planter: 'a.planter.json', planting: 'narrow' };
    expect(
      readList({
        samples: [good, { id: 'b' }, 'c', null, { ...good, id: 'd', map: 'd.geojson', planting: undefined }],
      }),
    ).toEqual([good, { ...good, id: 'd', map: ['d.geojson'], planting: '' }]);
    expect(readList('nonsense')).toEqual([]);
  });

  test('a planter that cannot be read keeps its text and says why', () => {
    const state = readState('{"rows": 3', 'x.planter.json');
    expect(state.planter).toBeNull();
    expect(state.text).toBe('{"rows": 3');
    expect(state.error?.place.file).toBe('x.planter.json');
  });
});

describe('texts with units', () => {
  test('units follow the planter file; unknown values say so', () => {
    expect(lengthOr(5.715, 'in')).toBe('18.75 ft (225 in)');
    expect([gapOr(null, 'in'), lengthOr(Number.NaN, 'm')]).toEqual(['not known', 'not known']);
    expect([signedGap(0.381, 'in'), signedGap(-0.04, 'cm'), signedGap(0, 'in')]).toEqual([
      '+15 in',
      '\u22124 cm',
      '0 in',
    ]);
    expect([shareText(1), shareText(0.999), shareText(0.001), shareText(0)]).toEqual([
      '100 %',
      'over 99 %',
      'under 1 %',
      '0 %',
    ]);
  });
});

describe('the rulers', () => {
  const report = (declared: number[], recorded: number[], centerM = 0): Report => {
    const bands = (e: number[]) => e.slice(1).map((rightM, i) => ({ rows: `${i + 1}`, leftM: e[i], rightM }));
    return {
      machines: [],
      declared: {
        sections: bands(declared.map((e) => e + centerM)),
        centerM,
        workingWidthM: declared[declared.length - 1] - declared[0],
      },
      recorded: { sections: bands(recorded), workingWidthM: recorded[recorded.length - 1] - recorded[0] },
    } as unknown as Report;
  };

  test('as many edges: joined one to one, each with how far it lies off', () => {
    const joins = joinEdges(report([-2, -1, 1, 2], [-2.5, -1, 1.2, 2.5], 0.19), 'm');
    expect(joins.map((j) => Number(j.offM.toFixed(6)))).toEqual([-0.5, 0, 0.2, 0.5]);
    expect(joins.map((j) => j.outer)).toEqual([true, false, false, true]);
  });

  test('fewer edges: outer with outer, each inner one with its nearest', () => {
    const joins = joinEdges(report([-3, -2, -1, 0, 1, 2, 3], [-3, -1.1, 2.2, 3]), 'm');
    expect(joins.map((j) => [j.declaredM, j.recordedM])).toEqual([
      [-3, -3],
      [-1, -1.1],
      [2, 2.2],
      [3, 3],
    ]);
  });

  test('lines never cross and never share an end on either ruler', () => {
    const edges = fc
      .uniqueArray(fc.integer({ min: -40, max: 40 }), { minLength: 2, maxLength: 14 })
      .map((a) => a.sort((p, q) => p - q));
    fc.assert(
      fc.property(edges, edges, (a, b) => {
        const joins = joinEdges(report(a, b), 'm');
        expect(joins.length).toBe(Math.min(a.length, b.length));
        for (let i = 1; i < joins.length; i++) {
          expect(joins[i].declaredM).toBeGreaterThan(joins[i - 1].declaredM);
          expect(joins[i].recordedM).toBeGreaterThan(joins[i - 1].recordedM);
        }
      }),
      { numRuns: 200, seed: 7 },
    );
  });
});

describe('the mesh', () => {
  const ring = fc.array(fc.tuple(fc.integer({ min: 0, max: 30 }), fc.integer({ min: 0, max: 30 })), {
    minLength: 3,
    maxLength: 40,
  });
  const windingOf = (points: readonly (readonly number[])[], x: number, y: number): number => {
    // Sum of the turns seen from the spot (textbook winding number).
    let turn = 0;
    points.forEach(([ax, ay], i) => {
      const [bx, by] = points[(i + 1) % points.length];
      turn += Math.atan2((ax - x) * (by - y) - (ay - y) * (bx - x), (ax - x) * (bx - x) + (ay - y) * (by - y));
    });
    return Math.round(turn / (2 * Math.PI)) + 0;
  };

  test('triangles wind around every spot as often as their ring does, whatever the ring', () => {
    fc.assert(
      fc.property(ring, fc.integer({ min: 0, max: 29 }), fc.integer({ min: 0, max: 29 }), (points, gx, gy) => {
        // Off the lattice and off every line between lattice points with these coefficients.
        const [x, y] = [gx + 0.4142135, gy + 0.7320508];
        const shapes = {
          xy: Int32Array.from(points.flat()),
          ringStart: Uint32Array.of(0, points.length),
          shapeStart: Uint32Array.of(0, 1),
        };
        const triangles = meshSome(shapes, () => true);
        let sum = 0;
        for (let i = 0; i < triangles.length; i += 3)
          sum += windingOf(
            [0, 1, 2].map((k) => points[triangles[i + k]]),
            x,
            y,
          );
        expect(sum).toBe(windingOf(points, x, y));
        expect(triangles.length).toBe(3 * (points.length - 2));
      }),
      { numRuns: 300, seed: 11 },
    );
  });

  test('convex records are kept apart from those that need the winding rule', () => {
    const square = [0, 0, 2, 0, 2, 2, 0, 2];
    const dart = [0, 0, 4, 0, 1, 1, 0, 4];
    const bowTie = [0, 0, 2, 2, 2, 0, 0, 2];
    const twice = [0, 0, 2, 0, 2, 2, 0, 2, 0, 0, 2, 0, 2, 2, 0, 2];
    const shapes = {
      xy: Int32Array.from([...square, ...dart, ...bowTie, ...twice]),
      ringStart: Uint32Array.of(0, 4, 8, 12, 20),
      shapeStart: Uint32Array.of(0, 1, 2, 3, 4),
    };
    const { convex, other } = meshShapes(shapes);
    expect([...convex]).toEqual([0, 1, 2, 2, 3, 0]);
    expect(other.length).toBe(3 * (2 + 2 + 6));
    expect([...ringEdges(shapes.ringStart)].slice(0, 8)).toEqual([0, 1, 1, 2, 2, 3, 3, 0]);
  });
});

describe('a record under the pointer', () => {
  test('the last of several that cover the spot; holes are not covered', () => {
    const box = (x: number, y: number, s: number): number[] => [x, y, x + s, y, x + s, y + s, x, y + s];
    const hole = [14, 4, 14, 6, 16, 6, 16, 4];
    const shapes = {
      xy: Int32Array.from([...box(0, 0, 10), ...box(5, 5, 10), ...box(10, 0, 10), ...hole]),
      ringStart: Uint32Array.of(0, 4, 8, 12, 16),
      shapeStart: Uint32Array.of(0, 1, 2, 4),
    };
    const picker = makePicker(shapes);
    expect(picker.at(2, 2)).toBe(0);
    expect(picker.at(7, 7)).toBe(1);
    expect(picker.at(18, 2)).toBe(2);
    expect(picker.at(15, 4.5)).toBe(-1);
    expect(picker.at(40, 40)).toBe(-1);
    expect(
      makePicker({ xy: new Int32Array(0), ringStart: new Uint32Array(1), shapeStart: new Uint32Array(1) }).at(0, 0),
    ).toBe(-1);
  });
});

describe('places', () => {
  const lattice = { stepsPerDegree: 1e8, originX: -93.62e8, originY: 42.03e8 };

  test('spherical Mercator at the corners of the world (EPSG:3857 bounds, 85.0511 degrees)', () => {
    expect(mercator(-180, 85.0511287798066)).toEqual([0, expect.closeTo(0, 12)]);
    expect(mercator(180, -85.0511287798066)).toEqual([1, expect.closeTo(1, 12)]);
    expect(mercator(0, 0)).toEqual([0.5, expect.closeTo(0.5, 15)]);
  });

  test('steps and degrees are inverse to each other', () => {
    expect(steps(lattice, ...lngLat(lattice, 1234, -567))).toEqual([expect.closeTo(1234, 3), expect.closeTo(-567, 3)]);
  });

  test('offsets keep a tenth of a millimeter over a kilometer', () => {
    const [x, y] = mercator(-93.62, 42.03);
    const xy = [1_207_551, 0, 1_207_552, 0];
    const o = offsets(xy, lattice, { x, y });
    const exact = (mercator(...lngLat(lattice, xy[2], xy[3]))[0] - x) * UNITS;
    // One unit is the equator (40,075,017 m) over 2^25, shorter by the cosine of the latitude on the ground.
    const meters = (40_075_017 / UNITS) * Math.cos((42.03 * Math.PI) / 180);
    expect(Math.abs(o[2] - exact) * meters).toBeLessThan(1e-4);
  });
});

test('a seam is drawn half-way between its two tracks, only where they lie side by side', () => {
  const track = (x: number, from: number, to: number): Float64Array =>
    Float64Array.from(Array.from({ length: 11 }, (_, i) => [x, from + (i / 10) * (to - from)]).flat());
  const pass = (number: number, t: Float64Array) => ({ number, track: t, recordedWidthM: 6 });
  const lines = seamLines({
    passes: [pass(1, track(0, 0, 100)), pass(2, track(60, 50, 150))],
    seams: [{ passA: 1, passB: 2 }],
    stepsPerMeter: [10, 10],
  } as unknown as Evidence);
  const points = lines[0][0];
  expect(points.filter((_, i) => i % 2 === 0).every((x) => x === 30)).toBe(true);
  const ys = points.filter((_, i) => i % 2 === 1);
  expect(Math.min(...ys)).toBeGreaterThanOrEqual(45);
  expect(Math.max(...ys)).toBe(100);
});

test('every large buffer of an answer is transferred once', () => {
  const shared = new Float64Array(200);
  const loop: Record<string, unknown> = {
    a: shared,
    b: [shared.subarray(2), { c: new Int32Array(300), small: new Int32Array(2) }],
    d: 'text',
    e: null,
  };
  loop.self = loop;
  expect(buffersOf(loop).map((b) => b.byteLength)).toEqual([1600, 1200]);
});
