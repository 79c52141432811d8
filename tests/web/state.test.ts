import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { Answer } from '../../src/core/answer.ts';
import {
  type Action,
  isOld,
  needsPlanting,
  readState,
  reduce,
  START,
  type State,
  shown,
} from '../../src/web/state/index.ts';
import { overall, overallRebuild } from '../../src/web/state/progress.ts';
import type { Checked } from '../../src/worker/api.ts';

const file = (name: string): File => new File(['{}'], name);
const PLANTER = {
  name: 'Split',
  unit: 'in',
  rows: 15,
  rowSpacing: 15,
  plantings: { narrow: 'all', wide: 'odd' },
};
const planter = readState(JSON.stringify(PLANTER), 'split.planter.json');
const one = readState(JSON.stringify({ ...PLANTER, plantings: { every: 'all' } }), 'one.planter.json');
const sample = { id: 's', title: 'S', about: '', map: ['s.geojson'], planter: 's.planter.json', planting: 'narrow' };

const run = (actions: readonly Action[], from: State = START): State => actions.reduce(reduce, from);
const opened = (map: string[], withPlanter = planter as typeof planter | null): Action => ({
  type: 'files opened',
  map: map.map(file),
  planter: withPlanter,
  others: [],
  unused: [],
});
/** As much of an answer as the reducer looks at. */
const checked = (name: string): Checked =>
  ({
    answer: { name, report: { machines: [], declared: {}, diagnoses: [], wouldDecide: [] } } as unknown as Answer,
    fix: null,
  }) as unknown as Checked;
const done = (state: State, name: string): State =>
  reduce(state, { type: 'job done', job: state.jobs, checked: checked(name) });

describe('what begins a check', () => {
  test('a map and a planter, in either order; a map alone is only inspected', () => {
    const map = run([opened(['a.geojson'], null)]);
    expect(map.run).toMatchObject({ state: 'running', job: { kind: 'look' } });
    const both = run([{ type: 'planter opened', planter: one }], map);
    expect(both.run).toMatchObject({ state: 'running', job: { kind: 'check' }, before: null });
    const other = run([opened([], one), opened(['a.geojson'], null)]);
    expect(other.run.state).toBe('running');
  });

  test('every choice is part of the request', () => {
    const state = run([
      opened(['a.geojson'], planter),
      { type: 'planting chosen', planting: 'wide' },
      { type: 'column chosen', role: 'time', name: 'when' },
      { type: 'layer chosen', layer: 'l' },
      { type: 'system chosen', crs: 'EPSG:32615' },
      { type: 'dates chosen', dates: 'day-first' },
      { type: 'records chosen', where: { column: 'Field', value: 'North' } },
      { type: 'boundary chosen', files: [file('edge.geojson')] },
    ]);
    expect(state.run).toMatchObject({
      job: {
        request: {
          planting: 'wide',
          columns: { time: 'when' },
          layer: 'l',
          crs: 'EPSG:32615',
          dates: 'day-first',
          where: [{ column: 'Field', value: 'North' }],
        },
        input: { boundaryNames: ['edge.geojson'], where: 'Field=North' },
      },
    });
  });

  test('a planter that cannot be read removes the answer from the sheet', () => {
    const bad = readState('{"rows": 3}', 'bad.planter.json');
    const state = run([opened([], bad)], done(run([opened(['a.geojson'], one)]), 'first'));
    expect(state.run.state).toBe('idle');
    expect(shown(state.run)).toBeNull();
  });
});

describe('jobs', () => {
  test('messages from a replaced job are ignored', () => {
    const first = run([opened(['a.geojson'], planter)]);
    const second = reduce(first, { type: 'planting chosen', planting: 'wide' });
    expect(second.jobs).toBe(first.jobs + 1);
    for (const late of [
      { type: 'job done', job: first.jobs, checked: checked('late') },
      { type: 'job failed', job: first.jobs, failure: { kind: 'memory' } },
      { type: 'job got on', job: first.jobs, stage: 'reading the map', done: 1 },
    ] satisfies Action[])
      expect(reduce(second, late)).toBe(second);
  });

  test('the same map checked again keeps its answer on the sheet; another map does not', () => {
    const first = done(run([opened(['a.geojson'], planter)]), 'first');
    const again = reduce(first, { type: 'planting chosen', planting: 'wide' });
    expect(shown(again.run)?.answer).toMatchObject({ name: 'first' });
    expect(shown(reduce(again, opened(['b.geojson'], null)).run)).toBeNull();
  });

  test('a cancelled job leaves a sentence and can be begun again', () => {
    const cancelled = reduce(run([opened(['a.geojson'], one)]), { type: 'job cancelled' });
    expect(cancelled.run).toEqual({ state: 'failed', failure: { kind: 'cancelled' } });
    expect(reduce(cancelled, { type: 'check wanted' }).run.state).toBe('running');
  });

  test('editing the planter makes the answer outdated, and a new check renews it', () => {
    const answered = done(run([opened(['a.geojson'], one)]), 'first');
    const edited = reduce(answered, { type: 'planter edited', planter });
    expect(isOld(edited)).toBe(true);
    expect(isOld(done(reduce(edited, { type: 'check wanted' }), 'second'))).toBe(false);
  });
});

describe('samples', () => {
  test('a sample brings its own planting, and is not under the address of other files', () => {
    const listed = run([{ type: 'samples listed', samples: [sample] }]);
    const wanted = reduce(listed, { type: 'sample wanted', id: 's', before: '' });
    expect(wanted.run).toMatchObject({ state: 'running', job: { kind: 'fetch' } });
    const here = reduce(wanted, {
      type: 'sample fetched',
      job: wanted.jobs,
      map: [file('s.geojson')],
      before: [],
      planter,
    });
    expect(here).toMatchObject({
      sample: { id: 's' },
      inputs: { planting: 'narrow' },
      run: { job: { kind: 'check' } },
    });
    expect(reduce(here, opened(['own.geojson'], planter)).sample.id).toBe('');
  });

  test('a sample that is not there is named', () => {
    const state = reduce(START, { type: 'sample wanted', id: 'nowhere', before: '' });
    expect(state.run).toMatchObject({ state: 'failed', failure: { text: expect.stringContaining('"nowhere"') } });
  });
});

describe('one bar for the whole', () => {
  const STAGES = [
    'reading the map',
    'finding passes',
    'fitting the layout',
    'measuring covered ground',
    'measuring planted ground',
    'something new',
  ];

  test('it never goes back and never passes the end, whatever comes in whatever order', () => {
    const step = fc.tuple(
      fc.constantFrom(...STAGES),
      fc.constantFrom('', ' (before the fix)', ' (after the fix)'),
      fc.double({ min: -1, max: 2, noNaN: true }),
    );
    fc.assert(
      fc.property(fc.array(step, { maxLength: 40 }), (steps) => {
        let at = 0;
        for (const [stage, half, part] of steps) {
          const next = overall(stage + half, part, at);
          expect(next).toBeGreaterThanOrEqual(at);
          expect(next).toBeLessThanOrEqual(1);
          at = next;
        }
      }),
      { numRuns: 200, seed: 19 },
    );
  });

  test('a rebuild checks the map first, which is half of it; then it goes on to the end', () => {
    const stages = ['reading the map', 'measuring planted ground', 'redrawing bars', 'something new'];
    const at: number[] = [];
    for (const s of stages) at.push(overallRebuild(s, 1, at[at.length - 1] ?? 0));
    expect(at).toEqual([...at].sort((a, b) => a - b));
    expect(at[1]).toBeCloseTo(0.5, 12);
    expect(overallRebuild('removing ground covered before', 1, at[3])).toBeCloseTo(1, 12);
  });

  test('the last stage of a check fills it, and the first map of a comparison half of it', () => {
    expect(overall('measuring planted ground', 1, 0)).toBeCloseTo(1, 12);
    expect(overall('measuring planted ground (before the fix)', 1, 0)).toBeCloseTo(0.5, 12);
  });
});

describe('which planter a map gets', () => {
  const own = (): State => done(run([opened(['a.geojson'], one)]), 'first');

  test('a planter of the map before stays, and that is held; a new planter, or one with no map before, is not', () => {
    expect(own().inputs.kept).toEqual([]);
    expect(reduce(own(), opened(['b.geojson'], null)).inputs.kept).toEqual(['planter']);
    expect(reduce(own(), opened(['b.geojson'], planter)).inputs.kept).toEqual([]);
    expect(run([opened([], one), opened(['a.geojson'], null)]).inputs.kept).toEqual([]);
  });

  test('a planting that stays is held too, until the reader names one for this map', () => {
    const named = run([opened(['a.geojson'], planter), { type: 'planting chosen', planting: 'wide' }]);
    const next = reduce(named, opened(['b.geojson'], null));
    expect(next.inputs).toMatchObject({ planting: 'wide', kept: ['planter', 'planting'] });
    expect(reduce(next, { type: 'planting chosen', planting: 'wide' }).inputs.kept).toEqual(['planter']);
    expect(reduce(next, { type: 'planter opened', planter }).inputs).toMatchObject({ planting: '', kept: [] });
  });

  test('a sample’s planter goes with the sample', () => {
    const listed = run([
      { type: 'samples listed', samples: [sample] },
      { type: 'sample wanted', id: 's', before: '' },
    ]);
    const its = readState(JSON.stringify(PLANTER), 'split.planter.json', 'sample');
    const here = reduce(listed, {
      type: 'sample fetched',
      job: listed.jobs,
      map: [file('s')],
      before: [],
      planter: its,
    });
    const next = reduce(here, opened(['own.geojson'], null));
    expect(next.inputs).toMatchObject({ planter: null, planting: '' });
    expect(next.run).toMatchObject({ job: { kind: 'look' } });
  });
});

describe('what was planted', () => {
  test('is open with several plantings until the user names it, or says that it is not known', () => {
    const asked = run([opened(['a.geojson'], planter)]);
    expect(needsPlanting(asked.inputs)).toBe(true);
    expect(needsPlanting(run([opened(['a.geojson'], one)]).inputs)).toBe(false);
    expect(needsPlanting(reduce(asked, { type: 'planting chosen', planting: 'wide' }).inputs)).toBe(false);
    const unsure = reduce(asked, { type: 'planting not known' });
    expect(needsPlanting(unsure.inputs)).toBe(false);
    // The check that is under way is already the one without a planting.
    expect(unsure.jobs).toBe(asked.jobs);
    expect(reduce(unsure, opened([], planter)).inputs.unsure).toBe(false);
  });
});

describe('several fields', () => {
  const season = (): State => run([opened(['a.geojson', 'b.geojson'], one)]);
  const row = { verdict: 'agrees' as const, says: 'Fine.', settings: [], next: '' };

  test('are checked one after the other, and a bad one does not stop the others', () => {
    const first = season();
    expect(first.run).toMatchObject({ state: 'running', job: { kind: 'field', at: 0 } });
    const detail = { code: 'c', sentence: 'Bad.', place: {}, todo: 'Export it again.' };
    const second = reduce(first, { type: 'job failed', job: first.jobs, failure: { kind: 'refused', detail } });
    expect(second.season?.fields[0].row).toMatchObject({ verdict: 'not checked', says: 'Bad. Export it again.' });
    expect(second.run).toMatchObject({ job: { kind: 'field', at: 1 } });
    expect(reduce(second, { type: 'field checked', job: second.jobs, row }).run.state).toBe('idle');
  });

  test('wait for a planter, and for what was planted', () => {
    const waits = run([opened(['a.geojson', 'b.geojson'], null)]);
    expect(waits.run.state).toBe('idle');
    const asked = reduce(waits, opened([], planter));
    expect(asked.run.state).toBe('idle');
    expect(reduce(asked, { type: 'planting chosen', planting: 'wide' }).run.state).toBe('running');
    expect(reduce(asked, { type: 'planting not known' }).run.state).toBe('running');
  });

  test('one is opened and its verdict is in the list again', () => {
    const open = reduce(season(), { type: 'field wanted', at: 1 });
    expect(open).toMatchObject({ open: 1, inputs: { map: [{ name: 'b.geojson' }] }, run: { job: { kind: 'check' } } });
    const back = reduce(done(open, 'b'), { type: 'list wanted' });
    expect(back.season?.fields[1].row).not.toBeNull();
    expect(back).toMatchObject({ open: -1, run: { state: 'running', job: { kind: 'field', at: 0 } } });
  });

  test('a field with a planter of its own is checked with that, on the list and on its sheet, and leaves the list its own', () => {
    const own = { planter, planting: 'wide' };
    const chosen = reduce(season(), { type: 'field planter chosen', at: 0, own });
    expect(chosen.run).toMatchObject({ job: { kind: 'field', at: 0, request: { planting: 'wide' } } });
    const next = reduce(chosen, { type: 'field checked', job: chosen.jobs, row });
    expect(next.run).toMatchObject({ job: { at: 1, request: { planter: one.planter } } });
    const checkedBoth = reduce(next, { type: 'field checked', job: next.jobs, row });
    const open = reduce(checkedBoth, { type: 'field wanted', at: 0 });
    expect(open).toMatchObject({
      inputs: { planter, planting: 'wide' },
      run: { job: { request: { planting: 'wide' } } },
    });
    // Changed on its sheet, it is changed for this field alone.
    const other = reduce(open, { type: 'planting chosen', planting: 'narrow' });
    expect(other.season?.fields.map((f) => f.row === null)).toEqual([true, false]);
    const back = reduce(other, { type: 'list wanted' });
    expect(back.inputs).toMatchObject({ planter: one, planting: '' });
    expect(back.season?.fields.map((f) => f.own?.planting)).toEqual(['narrow', undefined]);
    // Another planter of the list leaves it alone.
    const listed = reduce(done(open, 'a'), { type: 'list wanted' });
    expect(reduce(listed, opened([], planter)).season?.fields.map((f) => f.row === null)).toEqual([false, true]);
    // Planters that the list had before can still be chosen.
    expect(reduce(listed, opened([], planter)).season?.planters).toEqual([one]);
  });

  test('another planter makes all of them open again', () => {
    const first = season();
    const one2 = reduce(first, { type: 'field checked', job: first.jobs, row });
    expect(reduce(one2, opened([], planter)).season?.fields.map((f) => f.row)).toEqual([null, null]);
  });
});

describe('Back', () => {
  test('every map, sample and start over is a visit of its own, and returning to one restores its answer', () => {
    const first = done(run([opened(['a.geojson'], one)]), 'first');
    const over = reduce(first, { type: 'started over' });
    expect(over).toMatchObject({ inputs: { map: [] }, run: { state: 'idle' } });
    expect(over.visit).toBeGreaterThan(first.visit);
    const back = reduce(over, { type: 'returned', to: first });
    expect(shown(back.run)?.answer).toMatchObject({ name: 'first' });
    // A new visit never takes the number of one that is still held.
    expect(reduce(back, opened(['b.geojson'], null)).visit).toBeGreaterThan(over.visit);
  });

  test('a check that was under way starts again', () => {
    const busy = run([opened(['a.geojson'], one)]);
    const back = reduce(reduce(busy, { type: 'started over' }), { type: 'returned', to: busy });
    expect(back.run).toMatchObject({ state: 'running', job: { kind: 'check' } });
    expect(back.jobs).toBeGreaterThan(busy.jobs);
  });
});

test('the reducer changes nothing that it is given', () => {
  const freeze = (v: unknown): void => {
    if (typeof v !== 'object' || v === null || v instanceof File || Object.isFrozen(v)) return;
    Object.freeze(v);
    for (const inner of Object.values(v)) freeze(inner);
  };
  let state: State = START;
  for (const action of [
    opened(['a.geojson'], planter),
    { type: 'planting chosen', planting: 'wide' },
    { type: 'column chosen', role: 'time', name: 't' },
    { type: 'boundary chosen', files: [file('b')] },
    opened(['b.geojson'], null),
    { type: 'seed price written', seedCost: '95/ac' },
    { type: 'planting not known' },
    { type: 'job cancelled' },
  ] satisfies Action[]) {
    freeze(state);
    state = reduce(state, action);
  }
  expect(state.inputs.kept).toEqual(['boundary', 'planter']);
});
