import { describe, expect, it } from 'vitest';
import { drawField } from '../generator/index.ts';
import { PLANTERS, rowsOf, runs } from '../generator/planters.ts';
import type { DrawnField, FieldSpec } from '../generator/spec.ts';
import { answer, checkSpec, field, planterOf, settingsOf } from './help.ts';

const INCH = 0.0254;
const p = PLANTERS.fifteen;
const STRIP: FieldSpec['shape'] = { kind: 'strip', lengthM: 110, passes: 9 };
const strip = (rest: Partial<FieldSpec>): FieldSpec => field(p, 'narrow', { shape: STRIP, ...rest });

describe('a layout that changes midway', () => {
  it('twice: from declared to merged sections and back, each change with its pass', async () => {
    const before = drawField(strip({}));
    const between = drawField(strip({ belief: { sections: runs('1-4 5-7 8-11 12-15') } }));
    const part = (d: DrawnField, from: number, to: number): unknown[] =>
      d.features.features.filter((_, i) => d.truth.pass[i] >= from && d.truth.pass[i] <= to);
    const features = [...part(before, 1, 3), ...part(between, 4, 6), ...part(before, 7, 9)];
    const drawn = { ...before, features: { ...before.features, features } } as DrawnField;
    const a = await answer(drawn, planterOf(p), 'narrow');
    const changes = a.report.observations.filter((o) => o.kind === 'change');
    expect(changes.map((o) => o.passes[0])).toEqual([4, 7]);
    // One cause, reported once: the change says what was wrong from there on.
    expect(settingsOf(a)).toEqual(['changed-midway', 'changed-midway']);
    expect(a.report.diagnoses[0].says).toContain(
      'Display set to 4 sections; planter has 8. The recorded width is right. This affects passes 4-6',
    );
  });

  it('in the middle of a pass, at a time: the clock time of that bar', async () => {
    const spec = strip({ change: { pass: 5, bar: 20, belief: { planted: rowsOf(15, 'odd') } } });
    const drawn = drawField(spec);
    const a = await answer(drawn, planterOf(p), 'narrow');
    const first = drawn.truth.pass.findIndex(
      (n, i) => n === 5 && drawn.truth.bar[i] === drawn.truth.bar[drawn.truth.pass.indexOf(5)] + 19,
    );
    const stamp = String(drawn.features.features[first].properties!.logged_at);
    expect(a.report.diagnoses[0].setting).toBe('changed-midway');
    const day = new Date(`${stamp.slice(0, 10)}T00:00:00Z`).toLocaleDateString('en-US', {
      dateStyle: 'long',
      timeZone: 'UTC',
    });
    expect(a.report.diagnoses[0].says).toContain(`from ${stamp.slice(11, 16)} on ${day}`);
    expect(a.report.diagnoses[0].says).toContain('the choice of rows did not follow the crop');
    expect(settingsOf(a)).not.toContain('planted-rows');
  });
});

it('a time column with holes is not used, and a note says how many records have no time', async () => {
  const drawn = drawField(strip({}));
  const { features } = drawn.features;
  const holed = features.map((f, i) => {
    const { logged_at: time, ...rest } = f.properties!;
    return { ...f, properties: i % 3 === 0 ? rest : { ...rest, logged_at: time } };
  });
  const a = await answer({ ...drawn, features: { ...drawn.features, features: holed } }, planterOf(p), 'narrow');
  expect(a.report.map.columns.time).toBeUndefined();
  const note = a.report.notes.find((n) => n.code === 'time-incomplete');
  const commas = (n: number): string => n.toLocaleString('en-US');
  expect(note?.sentence).toBe(
    `The column "logged_at" was not used as the time: ${commas(Math.ceil(holed.length / 3))} of ${commas(holed.length)} records have no time in it.`,
  );
  const whole = await answer(drawn, planterOf(p), 'narrow');
  expect(whole.report.map.columns.time?.name).toBe('logged_at');
  expect(whole.report.notes.map((n) => n.code)).not.toContain('time-incomplete');
});

describe('frames that fit a width alone', () => {
  it('a 20 ft bar map is 8 rows at 30 in, 16 at 15 in or 12 at 20 in (arithmetic): all are said', async () => {
    const a = await checkSpec(
      strip({ grain: 'bar', belief: { planted: rowsOf(15, 'odd') }, passSpacingM: 240 * INCH }),
      p,
      'narrow',
    );
    const said = a.report.recorded.sameWidth.map((f) => `${f.rows} at ${Math.round(f.rowSpacingM / INCH)}`);
    for (const frame of ['8 at 30', '16 at 15', '12 at 20']) expect(said).toContain(frame);
  });
});

describe('a distance and a delay at the ends', () => {
  const square: FieldSpec['shape'] = { kind: 'field', lengthM: 130, widthM: 80, headlandLaps: 1 };
  const late = (rest: Partial<FieldSpec>): FieldSpec => strip({ shape: square, ...rest });

  it('varying speeds distinguish them', async () => {
    const distance = await checkSpec(late({ speedSpread: 0.35, belief: { offsetBackM: 4.5 } }), p, 'narrow');
    const delay = await checkSpec(late({ speedSpread: 0.35, belief: { onDelayS: 2, offDelayS: 2 } }), p, 'narrow');
    expect(distance.report.diagnoses[0].setting).toBe('inline-offset');
    expect(delay.report.diagnoses[0].setting).toBe('switch-delay');
    // At one record a second nothing says whether a state was sampled before or after a switch, nor how far the display looks ahead.
    const [low, high] = /between ([\d.]+) s and ([\d.]+) s/.exec(delay.report.diagnoses[0].says)!.slice(1).map(Number);
    expect(low).toBeLessThanOrEqual(2);
    expect(high).toBeGreaterThanOrEqual(2);
    expect(high - low).toBeLessThan(2.5);
  });
  it('even speeds do not: both are named and share the confidence', async () => {
    const a = await checkSpec(late({ speedSpread: 0.01, belief: { offsetBackM: 4.5 } }), p, 'narrow');
    expect(settingsOf(a).sort()).toEqual(['inline-offset', 'switch-delay']);
    expect(a.report.diagnoses[0].confidence + a.report.diagnoses[1].confidence).toBeLessThanOrEqual(1);
    for (const d of a.report.diagnoses) expect(d.confidence).toBeGreaterThan(0.15);
  });
});
