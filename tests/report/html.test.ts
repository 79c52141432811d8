import { describe, expect, test } from 'vitest';
import { check } from '../../src/core/check.ts';
import { named } from '../../src/core/intake/index.ts';
import { fieldPicture, simplified } from '../../src/core/report/fieldpicture.ts';
import { htmlReport } from '../../src/core/report/index.ts';
import { field } from '../cli/field.ts';
import { PLANTERS } from '../generator/planters.ts';
import { frame } from '../planter/frames.ts';
import { checkSpec, field as drawn } from '../settings/help.ts';
import { hostile, undecidedBlob, wideForNarrow } from './fixture.ts';
import { expectGoldenPage } from './golden.ts';

describe('the report as one HTML file', () => {
  test.each([
    ['differs.html', htmlReport(wideForNarrow(), { command: "guessrow check 'north forty.geojson' --planter p.json" })],
    ['undecided.html', htmlReport(undecidedBlob())],
  ])('%s', (name, html) => expectGoldenPage(import.meta.url, name, html));

  test('holds nothing that runs or is fetched, and says so to the browser', () => {
    const html = htmlReport(wideForNarrow());
    expect(html).not.toMatch(/<script|<link|<img|<iframe|<object|@import|\bhref=|\bsrc=|\son\w+=|https?:/i);
    expect([...html.matchAll(/url\(([^)]*)\)/g)].map((m) => m[1]).filter((u) => !u.startsWith('#'))).toEqual([]);
    expect(html).toContain("default-src 'none'");
  });

  test('text out of a map or a planter file stays text, in words, names and drawings', () => {
    const bad = '</title><script>alert(1)</script>"><svg onload=x>\'&amp;';
    const a = wideForNarrow();
    const r = a.report;
    const html = htmlReport(
      {
        ...a,
        planter: { ...a.planter, name: bad, plantings: a.planter.plantings.map((p) => ({ ...p, name: bad })) },
        report: {
          ...r,
          says: bad,
          map: { ...r.map, source: bad, columns: { time: { name: bad, evidence: bad, unit: bad } } },
          declared: {
            ...r.declared,
            planter: bad,
            planting: bad,
            sections: r.declared.sections.map((s) => ({ ...s, rows: bad })),
          },
          diagnoses: r.diagnoses.map((d) => ({ ...d, says: bad, check: bad })),
          notes: [{ code: 'x', sentence: bad, place: { file: bad }, todo: bad }],
        },
      },
      { command: bad },
    );
    expect(html.match(/<script/g)).toBeNull();
    expect(html.match(/<svg onload/g)).toBeNull();
    expect(html.match(/<title>/g)).toHaveLength(1 + (html.match(/<g[^>]*><title>/g)?.length ?? 0));
    expect(html).toContain('&lt;script&gt;alert(1)&lt;/script&gt;');
  });

  test('no terminal escape, hidden or turning mark comes through', () => {
    const a = hostile();
    const planting = a.planter.plantings[0].name;
    const html = htmlReport({
      ...a,
      report: { ...a.report, declared: { ...a.report.declared, planting } },
    });
    // biome-ignore lint/suspicious/noControlCharactersInRegex: none may be left
    expect(html.replace(/\n/g, '')).not.toMatch(/[\u0000-\u001F\u007F-\u009F\u2028-\u202E]/);
  });

  test('centimeter planters get meters, centimeters and hectares', () => {
    const a = wideForNarrow();
    const html = htmlReport({ ...a, planter: frame({ unit: 'cm', rowSpacing: 38.1 }) });
    expect(html).toContain('2.95 ha');
    expect(html).toContain('recorded: 6.096 m');
    expect(html).toContain('(6.7 %) too much in the hectare count');
  });

  test('a price gives money with its condition', () => {
    const a = wideForNarrow();
    const r = a.report;
    // 1,839.3 m² is 0.18393 ha; at 100 a hectare that is 18.39 (arithmetic); 100 a hectare is 40.47 an acre.
    const html = htmlReport({
      ...a,
      report: {
        ...r,
        declared: { ...r.declared, seedCostPerHa: 100 },
        diagnoses: r.diagnoses.map((d) => ({
          ...d,
          effect: { ...d.effect, seedCost: { doubledCost: 0, unplantedCost: 18.393 } },
        })),
      },
    });
    expect(html).toContain('At 40.47 of seed per acre, if the rows planted at the full rate: 18.39 of seed');
  });
});

describe('the picture of the field', () => {
  test('no point of a line lies further from the simplified line than allowed', () => {
    const n = 2000;
    const line = Float64Array.from({ length: 2 * n }, (_, i) => (i % 2 ? 40 * Math.sin(i / 90) : i / 4));
    const kept = simplified(line, 0.5);
    expect(kept.length).toBeLessThan(line.length / 8);
    expect([kept[0], kept[kept.length - 2]]).toEqual([line[0], line[line.length - 2]]);
    let far = 0;
    for (let i = 0; i < n; i++) {
      let near = Number.POSITIVE_INFINITY;
      for (let k = 0; k + 3 < kept.length; k += 2) {
        const [ax, ay, bx, by] = kept.subarray(k, k + 4);
        const l2 = (bx - ax) ** 2 + (by - ay) ** 2;
        const t = Math.min(1, Math.max(0, ((line[2 * i] - ax) * (bx - ax) + (line[2 * i + 1] - ay) * (by - ay)) / l2));
        near = Math.min(near, Math.hypot(line[2 * i] - ax - t * (bx - ax), line[2 * i + 1] - ay - t * (by - ay)));
      }
      far = Math.max(far, near);
    }
    expect(far).toBeLessThanOrEqual(0.5 + 1e-9);
  });

  test('has the letter of each cause at its ground, and the key says what it is', async () => {
    const spec = drawn(PLANTERS.fifteen, 'narrow', { passSpacingM: 6.096 });
    const answer = await checkSpec(spec, PLANTERS.fifteen, 'narrow');
    const picture = fieldPicture(answer, 800, 800)!;
    const [first] = picture.causes;
    expect(first.letter).toBe('A');
    expect(first.says).toMatch(/^Open: setting “pass spacing”, 0\.\d+\sac$/);
    for (const { letter } of picture.causes) {
      const its = picture.letters.filter((l) => l.letter === letter);
      expect(its.length).toBeGreaterThan(0);
      expect(its.length).toBeLessThanOrEqual(4);
      for (const { x, y } of its) expect([x > 0, y > 0, x < picture.width, y < picture.height]).not.toContain(false);
    }
    // Positioning noise is everywhere and means nothing.
    expect(picture.causes.map((c) => c.says).join(' ')).not.toContain('noise');
    const html = htmlReport(answer);
    expect(html.match(/class="causeat"/g)).toHaveLength(picture.letters.length);
    expect(html.replace(/\s+/g, ' ')).toContain(`>A</b>${first.says.replace(/\s+/g, ' ')}`);
  });

  test('a field with very many crooked edges still makes a bounded picture', () => {
    const a = wideForNarrow();
    const n = 200_000;
    const xy = Float64Array.from({ length: 2 * n }, (_, i) => {
      const turn = (2 * Math.PI * (i >> 1)) / n;
      const r = 50_000 + 9_000 * Math.sin((i >> 1) * 1.7);
      return r * (i % 2 ? Math.sin(turn) : Math.cos(turn));
    });
    const covered = { xy, ringStart: Uint32Array.of(0, n), polygonStart: Uint32Array.of(0, 1) };
    const f = fieldPicture({ ...a, evidence: { ...a.evidence, covered } }, 740, 820);
    expect(f!.points).toBeLessThanOrEqual(16_000);
    expect(f!.points).toBeGreaterThan(20);
  });

  describe('the field boundary', () => {
    // The ground of this picture is a square of 600 steps.
    const around = (low: number, high: number) => Float64Array.of(low, low, high, low, high, high, low, high);
    const a = wideForNarrow();
    const bounded = (...boundary: Float64Array[]) => ({ ...a, evidence: { ...a.evidence, boundary } });

    test('is drawn whole, and named, where one was given', () => {
      const f = fieldPicture(bounded(around(-60, 660)), 740, 820)!;
      const places = f.boundary.match(/[\d.-]+/g)!.map(Number);
      expect(places).toHaveLength(8);
      expect(Math.min(...places)).toBeGreaterThanOrEqual(0);
      expect(Math.max(...places)).toBeLessThanOrEqual(Math.max(f.width, f.height));
      expect(htmlReport(bounded(around(-60, 660)))).toContain('field boundary, as given');
      expect(htmlReport(a)).not.toContain('field boundary, as given');
    });

    test('that of a whole farm leaves the field its room', () => {
      const alone = fieldPicture(a, 740, 820)!;
      const farm = fieldPicture(bounded(around(-60_000, 60_000)), 740, 820)!;
      expect(farm.pixelsPerMeter / alone.pixelsPerMeter).toBeGreaterThan(0.66);
    });

    test('comes from the file, corner for corner', async () => {
      const ring = [
        [-93.601, 41.999],
        [-93.595, 41.999],
        [-93.595, 42.003],
        [-93.601, 42.003],
      ];
      const geometry = { type: 'Polygon', coordinates: [[...ring, ring[0]]] };
      const file = (name: string, text: string) => named(name, new TextEncoder().encode(text));
      const { evidence } = await check({
        map: [file('field.geojson', field({ edgesM: [-3, 0, 3], passSpacingM: 6, bars: 12 }))],
        boundary: [file('boundary.geojson', JSON.stringify({ type: 'Feature', properties: {}, geometry }))],
        planter: frame({ rows: 8, rowSpacing: 0.75, unit: 'm' }),
      });
      const { stepsPerDegree, originX, originY } = evidence.lattice;
      const degrees = evidence.boundary.map((r) =>
        Array.from({ length: r.length / 2 }, (_, i) =>
          [(originX + r[2 * i]) / stepsPerDegree, (originY + r[2 * i + 1]) / stepsPerDegree].join(' '),
        ).sort(),
      );
      expect(degrees).toEqual([ring.map((p) => p.join(' ')).sort()]);
    });
  });
});
