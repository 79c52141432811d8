/** What each action does to the sheet. A pure function: it starts no work, keeps nothing and asks nothing of the browser. */
import { listWords, pricePerHa } from '../../core/planter/index.ts';
import { priceSeed } from '../../core/summary.ts';
import type { CheckRequest } from '../../worker/api.ts';
import type { RunInput } from '../command.ts';
import { mapName, mapsOf } from '../files.ts';
import { overall } from './progress.ts';
import {
  type Action,
  type Beside,
  type Done,
  type Failed,
  type Inputs,
  type Job,
  NO_SAMPLE,
  type Run,
  type State,
} from './types.ts';

export function reduce(state: State, action: Action): State {
  const { inputs } = state;
  switch (action.type) {
    case 'samples listed':
      return { ...state, samples: action.samples };
    case 'cut-off check found':
      if (inputs.map.length > 0) return state;
      return {
        ...state,
        interrupted: action.map,
        inputs: { ...inputs, planter: inputs.planter ?? action.planter },
      };
    case 'files opened':
      return begin({ ...filesOpened(state, action), sample: NO_SAMPLE }, false);
    case 'sample wanted':
      return sampleWanted(state, action.id, action.before);
    case 'sample fetched':
      return isCurrent(state, action.job) ? sampleFetched(state, action) : state;
    case 'files told apart': {
      const kept = inputs.kept.filter((k) => !(k in action.chosen));
      return begin(put(state, { ...action.chosen, kept }), false);
    }
    case 'planter edited': {
      const { planter } = action;
      const gone = planter.planter && !planter.planter.plantings.some((p) => p.name === inputs.planting);
      return put(state, { planter, ...(gone ? { planting: '' } : {}), ...without(inputs, 'planter') });
    }
    case 'planter opened':
      return begin(put(state, { planter: action.planter, planting: '', ...without(inputs, 'planter') }), true);
    case 'planting chosen':
      return begin(put(state, { planting: action.planting }), true);
    case 'column chosen': {
      const { [action.role]: _, ...others } = inputs.columns;
      return begin(put(state, { columns: action.name ? { ...others, [action.role]: action.name } : others }), true);
    }
    case 'layer chosen':
      return begin(put(state, { layer: action.layer }), true);
    case 'records chosen':
      return begin(put(state, { where: action.where }), true);
    case 'boundary chosen':
      return begin(put(state, { boundary: action.files, ...without(inputs, 'boundary') }), true);
    case 'map before chosen':
      return begin(put(state, { before: action.files, ...without(inputs, 'before') }), true);
    case 'seed price written':
      return seedPriced(state, action.seedCost);
    case 'check wanted':
      return begin(state, true);
    case 'job cancelled':
      return state.run.state === 'running' ? { ...state, run: failed({ kind: 'cancelled' }) } : state;
    case 'job got on': {
      const { run } = state;
      if (run.state !== 'running' || run.job.id !== action.job) return state;
      const done = overall(action.stage, action.done, run.done);
      return { ...state, run: { ...run, stage: action.stage, done } };
    }
    case 'job done': {
      const { run } = state;
      if (run.state !== 'running' || run.job.id !== action.job || run.job.kind !== 'check') return state;
      const done: Done = { state: 'done', ...action.checked, input: run.job.input };
      return { ...state, run: priced(done, inputs.seedCost) };
    }
    case 'job failed':
      return isCurrent(state, action.job) ? { ...state, run: failed(action.failure) } : state;
  }
}

/** The answer on the sheet: of the last check, or of the one before while the same map is checked again. */
export function shown(run: Run): Done | null {
  if (run.state === 'done') return run;
  return run.state === 'running' ? run.before : null;
}

/** The answer on the sheet is of a planter that was changed since. */
export function isOld({ run, stale }: Pick<State, 'run' | 'stale'>): boolean {
  return run.state === 'done' && stale;
}

const isCurrent = ({ run }: State, job: number): boolean => run.state === 'running' && run.job.id === job;
const failed = (failure: Failed['failure']): Failed => ({ state: 'failed', failure });

function put(state: State, change: Partial<Inputs>): State {
  return { ...state, inputs: { ...state.inputs, ...change }, stale: true };
}

/** What is chosen anew is no longer something that stayed. */
function without({ kept }: Inputs, one: Beside): Pick<Inputs, 'kept'> {
  return { kept: kept.filter((k) => k !== one) };
}

function filesOpened(state: State, { map, planter, unused }: Action & { type: 'files opened' }): State {
  const { inputs, sample } = state;
  const change: Partial<Inputs> = {};
  if (map.length > 0) {
    // The strip driven after a fix is compared with the same map from before. What a sample brought along goes with the sample.
    const before = sample.before === '' ? inputs.before : [];
    const beside = { before, boundary: inputs.boundary };
    const kept = (['before', 'boundary'] as const).filter((k) => beside[k].length > 0);
    Object.assign(change, { map, ...beside, kept, columns: {}, layer: '', where: null });
  }
  if (planter) Object.assign(change, { planter, planting: '' });
  return { ...put(state, change), unused };
}

function sampleWanted(state: State, id: string, beforeId: string): State {
  const sample = state.samples.find((s) => s.id === id);
  const before = state.samples.find((s) => s.id === beforeId) ?? null;
  if (!sample) {
    const text = `There is no sample called "${id}". Choose one from the list.`;
    return { ...state, run: failed({ kind: 'broken', text }) };
  }
  const job: Job = { id: state.jobs + 1, kind: 'fetch', sample, before };
  return {
    ...state,
    sample: { id, before: before?.id ?? '' },
    jobs: job.id,
    run: { state: 'running', job, stage: 'fetching the sample', done: 0, before: null },
  };
}

function sampleFetched(state: State, { map, before, planter }: Action & { type: 'sample fetched' }): State {
  const planting = state.samples.find((s) => s.id === state.sample.id)?.planting ?? '';
  const fresh = { boundary: [], kept: [], columns: {}, layer: '', where: null };
  return begin({ ...put(state, { map, before, planter, planting, ...fresh }), unused: [] }, false);
}

/** Begins the check that the inputs ask for. `keep`: the answer on the sheet stays there until the new one is ready. */
function begin(state: State, keep: boolean): State {
  const { inputs } = state;
  const failure = tooMany(inputs);
  if (failure) return { ...state, run: failed(failure) };
  const planter = inputs.planter?.planter;
  // An answer, or what was wrong with other files, must not appear under the names of these.
  if (!planter || inputs.map.length === 0) return { ...state, run: { state: 'idle' } };
  const request: CheckRequest = { map: inputs.map, planter };
  if (inputs.planting) request.planting = inputs.planting;
  if (Object.keys(inputs.columns).length) request.columns = inputs.columns as Record<string, string>;
  if (inputs.layer) request.layer = inputs.layer;
  if (inputs.where) request.where = [inputs.where];
  if (inputs.boundary.length) request.boundary = inputs.boundary;
  if (inputs.before.length) request.before = inputs.before;
  const job: Job = { id: state.jobs + 1, kind: 'check', request, input: runInput(inputs) };
  return {
    ...state,
    jobs: job.id,
    interrupted: '',
    stale: false,
    run: { state: 'running', job, stage: 'starting', done: 0, before: keep ? shown(state.run) : null },
  };
}

function runInput(inputs: Inputs): RunInput {
  return {
    mapNames: inputs.map.map((f) => f.name),
    beforeNames: inputs.before.map((f) => f.name),
    boundaryNames: inputs.boundary.map((f) => f.name),
    planterName: inputs.planter?.fileName ?? '',
    planting: inputs.planting,
    columns: inputs.columns,
    layer: inputs.layer,
    where: inputs.where ? `${inputs.where.column}=${inputs.where.value}` : '',
    seedCost: '',
  };
}

/** More maps than there is a use for; null where each has its own. */
function tooMany({ map, before, boundary }: Inputs): Failed['failure'] | null {
  if (mapsOf(map).length > 1) return { kind: 'several' };
  for (const [files, use] of [
    [before, 'the map from before'],
    [boundary, 'the boundary'],
  ] as const) {
    const maps = mapsOf(files);
    if (maps.length < 2) continue;
    const detail = {
      code: 'several-maps',
      sentence: `${severalMaps(maps)}.`,
      place: {},
      todo: `Open one of them as ${use}.`,
    };
    return { kind: 'refused', detail };
  }
  return null;
}

/** "These are 2 maps: "a.zip" and "b.zip"", without a stop. */
export function severalMaps(maps: readonly File[][]): string {
  return `These are ${maps.length} maps: ${listWords(maps.map((m) => `"${mapName(m)}"`))}`;
}

function seedPriced(state: State, seedCost: string): State {
  const { run } = state;
  return {
    ...state,
    inputs: { ...state.inputs, seedCost },
    run:
      run.state === 'done'
        ? priced(run, seedCost)
        : run.state === 'running' && run.before
          ? { ...run, before: priced(run.before, seedCost) }
          : run,
  };
}

/** The answer in money too, where the price is one. A comparison has none, as on the command line. */
function priced(done: Done, seedCost: string): Done {
  const perHa = done.fix ? null : pricePerHa(seedCost);
  return {
    ...done,
    answer: priceSeed(done.answer, perHa),
    input: { ...done.input, seedCost: perHa === null ? '' : seedCost },
  };
}
