import fc from 'fast-check';
import { expect, test } from 'vitest';
import { layoutOf, proposeSections, ruleBreaks } from '../../src/core/planter/index.ts';
import type { Planter, RowRun } from '../../src/core/planter/types.ts';

/** Rows cut into runs at random places. */
const cutInto = (rows: number, cuts: number[]): RowRun[] => {
  const at = [...new Set(cuts.map((c) => 1 + (c % rows)))].filter((c) => c < rows).sort((a, b) => a - b);
  return [0, ...at].map((before, i) => ({ first: before + 1, last: at[i] ?? rows }));
};
const planters = fc
  .record({
    rows: fc.integer({ min: 1, max: 48 }),
    spacing: fc.integer({ min: 100, max: 1000 }),
    mask: fc.array(fc.boolean(), { minLength: 48, maxLength: 48 }),
    cuts: fc.array(fc.nat(), { maxLength: 20 }),
    drives: fc.array(fc.nat(), { maxLength: 3 }),
  })
  .map(({ rows, spacing, mask, cuts, drives }): Planter => {
    const some = Array.from({ length: rows }, (_, i) => i + 1).filter((r) => mask[r - 1]);
    return {
      name: 'p',
      unit: 'm',
      rows,
      rowSpacingM: spacing / 1000,
      plantings: [
        { name: 'all', rows: Array.from({ length: rows }, (_, i) => i + 1), passSpacingM: null },
        { name: 'some', rows: some.length > 0 ? some : [1], passSpacingM: null },
      ],
      sections: cutInto(rows, cuts),
      sectionsDeclared: true,
      drives: cutInto(rows, drives),
      offsetRightM: 0,
      offsetBackM: 0,
      file: { name: 'p', unit: 'm', rows, rowSpacing: spacing / 1000, plantings: {} },
    };
  });

const mirrored = (p: Planter): Planter => {
  const flip = (r: number) => p.rows + 1 - r;
  const runs = (list: RowRun[]) => list.map((s) => ({ first: flip(s.last), last: flip(s.first) })).reverse();
  return {
    ...p,
    plantings: p.plantings.map((q) => ({ ...q, rows: q.rows.map(flip).reverse() })),
    sections: runs(p.sections),
    drives: runs(p.drives),
  };
};

test('row bands and section bands tile the working width', () => {
  fc.assert(
    fc.property(planters, fc.constantFrom('all', 'some'), (p, name) => {
      const l = layoutOf(p, name);
      for (const bands of [l.rowBands, l.sectionBands.filter((b) => b !== null)]) {
        bands.forEach((b, i) => {
          expect(b.rightM).toBeGreaterThan(b.leftM);
          if (i > 0) expect(b.leftM).toBeCloseTo(bands[i - 1].rightM, 12);
        });
        expect(bands.reduce((s, b) => s + b.rightM - b.leftM, 0)).toBeCloseTo(l.workingWidthM, 9);
        expect((bands[0].leftM + bands[bands.length - 1].rightM) / 2).toBeCloseTo(l.centerM, 9);
      }
    }),
  );
});

test('every planted row lies inside its own band', () => {
  fc.assert(
    fc.property(planters, (p) => {
      const l = layoutOf(p, 'some');
      l.rows.forEach((r, i) => {
        const x = (r - (p.rows + 1) / 2) * p.rowSpacingM;
        expect(x).toBeGreaterThan(l.rowBands[i].leftM);
        expect(x).toBeLessThan(l.rowBands[i].rightM);
      });
    }),
  );
});

test('a mirrored planter has mirrored bands, and breaks the same rules', () => {
  fc.assert(
    fc.property(planters, (p) => {
      const m = mirrored(p);
      const a = layoutOf(p, 'some');
      const b = layoutOf(m, 'some');
      const n = a.sectionBands.length;
      a.sectionBands.forEach((band, i) => {
        const other = b.sectionBands[n - 1 - i];
        expect(other === null).toBe(band === null);
        if (band && other) {
          expect(other.leftM).toBeCloseTo(-band.rightM, 12);
          expect(other.rightM).toBeCloseTo(-band.leftM, 12);
        }
      });
      expect(b.centerM).toBeCloseTo(-a.centerM, 12);
      expect(ruleBreaks(m).map((r) => r.rule)).toEqual(ruleBreaks(p).map((r) => r.rule));
    }),
  );
});

test('twice the row spacing is twice every band', () => {
  fc.assert(
    fc.property(planters, (p) => {
      const a = layoutOf(p, 'some');
      const b = layoutOf({ ...p, rowSpacingM: 2 * p.rowSpacingM }, 'some');
      expect(b.workingWidthM).toBeCloseTo(2 * a.workingWidthM, 9);
      expect(b.centerM).toBeCloseTo(2 * a.centerM, 9);
    }),
  );
});

test('proposed sections keep every rule and the limit, and nothing is proposed only where nothing can be', () => {
  fc.assert(
    fc.property(planters, fc.integer({ min: 1, max: 50 }), (p, limit) => {
      const { sections, why } = proposeSections(p, limit);
      if (sections === null) {
        expect(why).not.toBe('');
        // The planter's own sections, if they keep the rules, are within no limit that was found impossible.
        if (p.sections.length <= limit) expect(ruleBreaks(p).length).toBeGreaterThan(0);
        return;
      }
      expect(sections.length).toBeLessThanOrEqual(limit);
      expect(sections[0].first).toBe(1);
      expect(sections[sections.length - 1].last).toBe(p.rows);
      sections.forEach((s, i) => {
        if (i > 0) expect(s.first).toBe(sections[i - 1].last + 1);
      });
      expect(ruleBreaks({ ...p, sections })).toEqual([]);
    }),
  );
});

test('on a frame whose halves are alike, the lone row of an odd frame is next to the center line', () => {
  for (let rows = 3; rows <= 63; rows += 4) {
    const whole = [{ first: 1, last: rows }];
    const all = Array.from({ length: rows }, (_, i) => i + 1);
    const odd = all.filter((r) => r % 2 === 1);
    const plantings = [all, odd].map((r, i) => ({ name: `${i}`, rows: r, passSpacingM: null }));
    const { sections } = proposeSections({ rows, plantings, drives: whole }, (rows + 1) / 2);
    expect(sections!.find((s) => s.first === s.last)!.first).toBe((rows + 1) / 2 - 1);
    expect(sections!.length).toBe((rows + 1) / 2);
  }
});

test('the one-row section of an odd frame lies as near to the center line as any layout with as many sections allows', () => {
  // Every cut of the frame is tried (arithmetic); 11 rows in 2 to 6 sections, with plantings that leave rows idle.
  const rows = 11;
  const whole = [{ first: 1, last: rows }];
  const all = Array.from({ length: rows }, (_, i) => i + 1);
  for (const other of [all, all.filter((r) => r % 2 === 1), [1, 2, 4, 5, 7, 8, 10, 11]]) {
    const plantings = [all, other].map((r, i) => ({ name: `${i}`, rows: r, passSpacingM: null }));
    for (let count = 2; count <= 6; count++) {
      const { sections } = proposeSections({ rows, plantings, drives: whole }, count);
      if (sections?.length !== count) continue;
      let nearest = Number.POSITIVE_INFINITY;
      for (let cuts = 0; cuts < 2 ** (rows - 1); cuts++) {
        const ends = all.filter((r) => r === rows || (cuts >> (r - 1)) & 1);
        if (ends.length !== count) continue;
        const runs = ends.map((last, i) => ({ first: i ? ends[i - 1] + 1 : 1, last }));
        const sound = runs.every((s) => plantings.every((p) => p.rows.some((r) => r >= s.first && r <= s.last)));
        if (!sound) continue;
        for (const s of runs) if (s.first === s.last) nearest = Math.min(nearest, Math.abs(s.first - (rows + 1) / 2));
      }
      const lone = sections.filter((s) => s.first === s.last).map((s) => Math.abs(s.first - (rows + 1) / 2));
      expect(Math.max(1, Math.min(...lone))).toBe(Math.max(1, nearest));
    }
  }
});
