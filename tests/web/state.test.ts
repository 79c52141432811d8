import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { Answer } from '../../src/core/answer.ts';
import { type Action, isOld, readState, reduce, START, type State, shown } from '../../src/web/state/index.ts';
import { overall } from '../../src/web/state/progress.ts';
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
  unused: [],
});
/** As much of an answer as the reducer looks at. */
const checked = (name: string): Checked =>
  ({
    answer: { name, report: { machines: [], declared: {}, diagnoses: [] } } as unknown as Answer,
    fix: null,
  }) as unknown as Checked;
const done = (state: State, name: string): State =>
  reduce(state, { type: 'job done', job: state.jobs, checked: checked(name) });

describe('what begins a check', () => {
  test('a map and a planter, in either order, and nothing less', () => {
    const map = run([opened(['a.geojson'], null)]);
    expect(map.run.state).toBe('idle');
    const both = run([{ type: 'planter opened', planter: one }], map);
    expect(both.run).toMatchObject({ state: 'running', job: { kind: 'check' }, before: null });
    const other = run([opened([], one), opened(['a.geojson'], null)]);
    expect(other.run.state).toBe('running');
  });

  test('every choice is part of what is asked for', () => {
    const state = run([
      opened(['a.geojson'], planter),
      { type: 'planting chosen', planting: 'wide' },
      { type: 'column chosen', role: 'time', name: 'when' },
      { type: 'layer chosen', layer: 'l' },
      { type: 'records chosen', where: { column: 'Field', value: 'North' } },
      { type: 'boundary chosen', files: [file('edge.geojson')] },
    ]);
    expect(state.run).toMatchObject({
      job: {
        request: {
          planting: 'wide',
          columns: { time: 'when' },
          layer: 'l',
          where: [{ column: 'Field', value: 'North' }],
        },
        input: { boundaryNames: ['edge.geojson'], where: 'Field=North' },
      },
    });
  });

  test('a planter that cannot be read takes the answer off the sheet', () => {
    const bad = readState('{"rows": 3}', 'bad.planter.json');
    const state = run([opened([], bad)], done(run([opened(['a.geojson'], one)]), 'first'));
    expect(state.run.state).toBe('idle');
    expect(shown(state.run)).toBeNull();
  });
});

describe('jobs', () => {
  test('word from a job that was replaced is not heeded', () => {
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

  test('a planter edited after the answer makes it old, and a new check makes it new', () => {
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

  test('the last stage of a check fills it, and the first map of a comparison half of it', () => {
    expect(overall('measuring planted ground', 1, 0)).toBeCloseTo(1, 12);
    expect(overall('measuring planted ground (before the fix)', 1, 0)).toBeCloseTo(0.5, 12);
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
    { type: 'job cancelled' },
  ] satisfies Action[]) {
    freeze(state);
    state = reduce(state, action);
  }
  expect(state.inputs.kept).toEqual(['boundary']);
});
