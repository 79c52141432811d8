/** The effect of each action on the sheet. A pure function: it starts no work, stores nothing and reads nothing from the browser. */
import { listWords, pricePerHa } from '../../core/planter/index.ts';
import type { Planter } from '../../core/planter/types.ts';
import { priceSeed } from '../../core/steps/summary.ts';
import type { CheckRequest, FirstPicture, LookRequest } from '../../worker/api.ts';
import { type FieldRow, rowOf } from '../../worker/rows.ts';
import type { Failure } from '../checker.ts';
import type { RunInput } from '../command.ts';
import { mapName, mapsOf } from '../files.ts';
import { overall } from './progress.ts';
import {
  type Action,
  type Beside,
  type Done,
  type Failed,
  type Field,
  type Inputs,
  type Job,
  type MachinePlanter,
  NO_INPUTS,
  NO_SAMPLE,
  type Own,
  type PlanterState,
  type Run,
  START,
  type State,
} from './types.ts';

/** The new state for each action: flat switches, a few lines per case, with longer cases in functions below. */
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
      return begin(filesOpened(state, action), false);
    case 'audit opened': {
      const { fields, unused } = action;
      const season: State['season'] = { from: 'audit', fields, planters: [], shared: null };
      return { ...visit(state), ...BARE, season, unused, run: { state: 'idle' } };
    }
    case 'field wanted':
      return fieldWanted(state, action.at);
    case 'list wanted':
      return begin(backToList(visit(state)), false);
    case 'field planter chosen':
      return begin(fieldPlanterChosen(state, action), false);
    case 'started over': {
      const { samples, kept, jobs } = state;
      const { visit: at, visits } = visit(state);
      return { ...START, samples, kept, jobs, visit: at, visits };
    }
    case 'returned': {
      const { samples, kept, draft, jobs, visits } = state;
      const back = { ...action.to, samples, kept, draft, jobs, visits };
      return back.run.state === 'running' || back.run.state === 'idle' ? begin(back, false) : back;
    }
    case 'planters kept':
      return { ...state, kept: { planters: action.planters, problem: action.problem } };
    case 'draft found':
      return { ...state, draft: action.draft };
    case 'sample wanted':
      return sampleWanted(state, action.id, action.before);
    case 'sample fetched':
      return isCurrent(state, action.job) ? sampleFetched(state, action) : state;
    case 'files told apart': {
      const kept = inputs.kept.filter((k) => !(k in action.chosen));
      return begin({ ...put(visit(state), { ...action.chosen, kept }), season: null, open: -1 }, false);
    }
    case 'seed price written':
      return seedPriced(state, action.seedCost);
    case 'check wanted':
      return begin(state, true);
    default:
      return isJobAction(action) ? jobReduced(state, action) : inputReduced(state, action);
  }
}

type InputAction = Extract<
  Action,
  {
    type:
      | 'planter edited'
      | 'planter confirmed'
      | 'planter opened'
      | 'planter dropped'
      | 'machine planter opened'
      | 'machine planting chosen'
      | 'machine planter dropped'
      | 'planting chosen'
      | 'planting not known'
      | 'column chosen'
      | 'layer chosen'
      | 'system chosen'
      | 'dates chosen'
      | 'records chosen'
      | 'boundary chosen'
      | 'map before chosen';
  }
>;

/** The same for an input that the user changes. */
function inputReduced(state: State, action: InputAction): State {
  const { inputs } = state;
  switch (action.type) {
    case 'planter edited': {
      const { planter } = action;
      const gone = planter.planter && !planter.planter.plantings.some((p) => p.name === inputs.planting);
      return put(state, { planter, ...(gone ? UNNAMED : {}), ...without(inputs, 'planter', 'planting') });
    }
    case 'planter confirmed': {
      if (inputs.planter === null) return state;
      const { guess: _, ...planter } = inputs.planter;
      // The answer stays: it is the same planter.
      return { ...state, inputs: { ...inputs, planter: { ...planter, from: 'form' } } };
    }
    case 'planter opened':
      return begin(
        forget(put(state, { planter: action.planter, ...UNNAMED, ...without(inputs, 'planter', 'planting') })),
        true,
      );
    case 'planter dropped':
      return begin(
        forget(put(state, { planter: null, machines: [], ...UNNAMED, ...without(inputs, 'planter', 'planting') })),
        false,
      );
    case 'machine planter opened': {
      const { machine, planter } = action;
      return begin(put(state, { machines: [...others(inputs, machine), { machine, planter, planting: '' }] }), true);
    }
    case 'machine planting chosen': {
      const { machine, planting } = action;
      const machines = inputs.machines.map((m) => (m.machine === machine ? { ...m, planting } : m));
      return begin(put(state, { machines }), true);
    }
    case 'machine planter dropped':
      return begin(put(state, { machines: others(inputs, action.machine) }), true);
    case 'planting chosen':
      return begin(
        forget(put(asked(state), { planting: action.planting, unsure: false, ...without(inputs, 'planting') })),
        true,
      );
    case 'planting not known': {
      // The current check or answer was started without a planting.
      const open = {
        ...asked(state),
        inputs: { ...inputs, planting: '', unsure: true, ...without(inputs, 'planting') },
      };
      return inputs.planting === '' && !state.season ? open : begin(forget(open), true);
    }
    case 'column chosen': {
      const { [action.role]: _, ...others } = inputs.columns;
      return begin(put(state, { columns: action.name ? { ...others, [action.role]: action.name } : others }), true);
    }
    case 'layer chosen':
      return begin(put(state, { layer: action.layer }), true);
    case 'system chosen':
      return begin(put(state, { crs: action.crs }), true);
    case 'dates chosen':
      return begin(put(state, { dates: action.dates }), true);
    case 'records chosen':
      return begin(put(state, { where: action.where }), true);
    case 'boundary chosen':
      return begin(put(state, { boundary: action.files, ...without(inputs, 'boundary') }), true);
    case 'map before chosen':
      return begin(put(state, { before: action.files, ...without(inputs, 'before') }), true);
  }
}

type JobAction = Extract<
  Action,
  {
    type: 'job cancelled' | 'job got on' | 'map read' | 'map looked at' | 'field checked' | 'job done' | 'job failed';
  }
>;

const JOB_ACTIONS: ReadonlySet<string> = new Set<JobAction['type']>([
  'job cancelled',
  'job got on',
  'map read',
  'map looked at',
  'field checked',
  'job done',
  'job failed',
]);
const isJobAction = (action: InputAction | JobAction): action is JobAction => JOB_ACTIONS.has(action.type);

/** The same for what jobs report. Reports of a job other than the current one change nothing. */
function jobReduced(state: State, action: JobAction): State {
  const { inputs } = state;
  switch (action.type) {
    case 'job cancelled':
      return state.run.state === 'running' ? { ...state, run: failed({ kind: 'cancelled' }) } : state;
    case 'job got on': {
      const { run } = state;
      if (run.state !== 'running' || run.job.id !== action.job) return state;
      const done = overall(action.stage, action.done, run.done);
      return { ...state, run: { ...run, stage: action.stage, done } };
    }
    case 'map read':
      return state.run.state === 'running' && state.run.job.id === action.job
        ? { ...state, run: { ...state.run, pictures: withPart(state.run.pictures, action.picture) } }
        : state;
    case 'map looked at':
      return isCurrent(state, action.job)
        ? { ...state, run: { state: 'looked', ...action.look, pictures: picturesOf(state.run) } }
        : state;
    case 'field checked':
      return isCurrent(state, action.job) ? fieldDone(state, action.row) : state;
    case 'job done': {
      const { run } = state;
      if (run.state !== 'running' || run.job.id !== action.job || run.job.kind !== 'check') return state;
      const done: Done = { state: 'done', ...action.checked, input: run.job.input, pictures: run.pictures };
      const next = { ...state, run: priced(done, inputs.seedCost) };
      return state.season ? withRow(next, state.open, rowOf(action.checked.answer.report)) : next;
    }
    case 'job failed': {
      const { run } = state;
      if (run.state !== 'running' || run.job.id !== action.job) return state;
      const { failure } = action;
      if (run.job.kind === 'field' && failure.kind !== 'cancelled') return fieldDone(state, rowOfFailure(failure));
      return { ...state, run: failed(failure) };
    }
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

/** A new choice no longer counts as one that stayed. */
function without({ kept }: Inputs, ...chosen: Beside[]): Pick<Inputs, 'kept'> {
  return { kept: kept.filter((k) => !chosen.includes(k)) };
}

const others = ({ machines }: Inputs, machine: string): MachinePlanter[] =>
  machines.filter((m) => m.machine !== machine);

/** Inputs that belong to one map and are dropped with it. */
const ONE_MAP: Pick<Inputs, 'map' | 'before' | 'boundary' | 'kept' | 'columns' | 'layer' | 'crs' | 'dates' | 'where'> =
  {
    map: [],
    before: [],
    boundary: [],
    kept: [],
    columns: {},
    layer: '',
    crs: '',
    dates: '',
    where: null,
  };
const UNNAMED: Pick<Inputs, 'planting' | 'unsure'> = { planting: '', unsure: false };
/** No single field, as when a list is on the sheet. */
const BARE: Pick<State, 'sample' | 'inputs' | 'open' | 'stale'> = {
  sample: NO_SAMPLE,
  inputs: NO_INPUTS,
  open: -1,
  stale: false,
};

/** Where the question what was planted stands on the sheet, its answer is a visit: Back returns to the question. */
function asked(state: State): State {
  const { map, planter, planting, unsure } = state.inputs;
  const several = (planter?.planter?.plantings.length ?? 0) > 1;
  return map.length > 0 && several && planting === '' && !unsure ? visit(state) : state;
}

/** A new entry in the browser's history. */
function visit(state: State): State {
  return { ...state, visit: state.visits + 1, visits: state.visits + 1 };
}

function filesOpened(state: State, { map, planter, others, unused }: Action & { type: 'files opened' }): State {
  if (map.length === 0 && !planter) return { ...state, unused };
  const next = {
    ...(map.length > 0 ? visit(state) : state),
    sample: NO_SAMPLE,
    unused,
  };
  const change: Partial<Inputs> = planter ? { planter, ...UNNAMED } : {};
  const { inputs, sample, season } = state;
  if (map.length === 0) {
    const beside = [...others, ...(inputs.planter ? [inputs.planter] : [])];
    const list = season && state.open < 0 ? { ...season, planters: withPlanters(season.planters, beside) } : season;
    return forget({ ...put(next, change), season: list });
  }
  // A new map is not compared with a sample's planter. The user's own stays and is marked.
  if (!planter && inputs.planter?.from === 'sample') Object.assign(change, { planter: null, ...UNNAMED });
  const apart = mapsOf(map);
  if (apart.length > 1) {
    const fields = apart.map((files) => ({ name: mapName(files), files, row: null, report: null, own: null }));
    const list: State['season'] = { from: 'maps', fields, planters: withPlanters([], others), shared: null };
    return { ...put(next, { ...change, ...ONE_MAP, machines: [] }), season: list, open: -1 };
  }
  // The strip driven after a fix is compared with the same map from before. Inputs of a sample are dropped with the sample.
  const beside = { before: sample.before === '' ? inputs.before : [], boundary: inputs.boundary };
  const kept: Beside[] = (['before', 'boundary'] as const).filter((k) => beside[k].length > 0);
  if (!planter && change.planter === undefined && inputs.planter && inputs.map.length > 0) {
    kept.push('planter');
    if (inputs.planting !== '') kept.push('planting');
  }
  return { ...put(next, { ...ONE_MAP, ...change, map, ...beside, kept }), season: null, open: -1 };
}

function fieldWanted(state: State, at: number): State {
  const field = state.season?.fields[at];
  if (!field || field.files.length === 0) return { ...visit(state), open: field ? at : -1, run: { state: 'idle' } };
  const { planter, planting, unsure, machines } = state.inputs;
  const { own } = field;
  const its: Partial<Inputs> = own ? { ...own, unsure: own.planting === '', machines: [] } : {};
  const shared = own ? { planter, planting, unsure, machines } : null;
  const next = put(visit(state), { ...ONE_MAP, ...its, map: field.files });
  return begin({ ...next, open: at, season: state.season && { ...state.season, shared } }, false);
}

/** The list again, with its own planter; a field that has one of its own keeps what was chosen for it. */
function backToList(state: State): State {
  const { inputs, season, open } = state;
  const list = { ...state, open: -1, inputs: { ...inputs, ...ONE_MAP } };
  if (!season?.shared) return list;
  const { planter, planting } = inputs;
  const own = planter && { planter, planting };
  const fields = season.fields.map((f, i) => (i === open ? { ...f, own } : f));
  return {
    ...list,
    inputs: { ...list.inputs, ...season.shared },
    season: { ...season, fields, shared: null },
  };
}

function fieldPlanterChosen(state: State, { at, own }: Action & { type: 'field planter chosen' }): State {
  const { season } = state;
  if (season?.from !== 'maps') return state;
  return {
    ...state,
    season: { ...season, fields: season.fields.map((f, i) => (i === at ? { ...f, own, row: null } : f)) },
  };
}

/** Planters that can be read, each once. */
function withPlanters(known: readonly PlanterState[], more: readonly PlanterState[]): PlanterState[] {
  const all = [...known, ...more].filter((p) => p.planter !== null);
  return all.filter((p, i) => all.findIndex((q) => q.text === p.text) === i);
}

/** The answers of the list belong to another planter or planting, so all its fields are checked again: those that have the planter that was changed. */
function forget(state: State): State {
  const { season, open } = state;
  if (season?.from !== 'maps') return state;
  const changed = (own: Own | null, i: number): boolean => (season.shared ? i === open : own === null);
  const fields = season.fields.map((f, i) => (changed(f.own, i) ? { ...f, row: null } : f));
  return { ...state, season: { ...season, fields } };
}

function withRow(state: State, at: number, row: FieldRow): State {
  const { season } = state;
  if (season?.from !== 'maps') return state;
  const fields = season.fields.map((f, i) => (i === at ? { ...f, row } : f));
  return { ...state, season: { ...season, fields } };
}

function fieldDone(state: State, row: FieldRow): State {
  const at = state.run.state === 'running' && state.run.job.kind === 'field' ? state.run.job.at : -1;
  return begin(withRow(state, at, row), false);
}

function rowOfFailure(failure: Failure): FieldRow {
  const says =
    failure.kind === 'refused'
      ? `${failure.detail.sentence} ${failure.detail.todo}`
      : failure.kind === 'memory'
        ? 'The browser ran out of memory during the check.'
        : `The check stopped on a fault of this program: ${failure.kind === 'cancelled' ? '' : failure.text}`;
  return { verdict: 'not checked', says, settings: [], next: '' };
}

function sampleWanted(state: State, id: string, beforeId: string): State {
  const sample = state.samples.find((s) => s.id === id);
  const before = state.samples.find((s) => s.id === beforeId) ?? null;
  if (!sample) {
    const text = `There is no sample called "${id}". Choose one from the list.`;
    return { ...state, run: failed({ kind: 'notice', text }) };
  }
  const job: Job = { id: state.jobs + 1, kind: 'fetch', sample, before };
  return {
    ...visit(state),
    season: null,
    open: -1,
    sample: { id, before: before?.id ?? '' },
    jobs: job.id,
    run: { state: 'running', job, stage: 'fetching the sample', done: 0, before: null, pictures: [] },
  };
}

function sampleFetched(state: State, { map, before, planter }: Action & { type: 'sample fetched' }): State {
  const planting = state.samples.find((s) => s.id === state.sample.id)?.planting ?? '';
  const own = { map, before, planter, machines: [], planting, unsure: false };
  return begin({ ...put(state, { ...ONE_MAP, ...own }), unused: [] }, false);
}

/** Begins the work that the inputs ask for. `keep`: the answer on the sheet stays there until the new one is ready. */
function begin(state: State, keep: boolean): State {
  const { inputs, season } = state;
  const idle: State = { ...state, run: { state: 'idle' } };
  const { planter } = inputs;
  if (season && state.open < 0) {
    const at = season.fields.findIndex((f) => f.row === null && f.files.length > 0 && lacks(f, inputs) === null);
    if (at < 0) return idle;
    const { own, files } = season.fields[at];
    const its = { ...inputs, ...(own ? { ...own, machines: [] } : {}), map: files };
    const declared = its.planter?.planter;
    if (!declared) return idle;
    const request = requestOf(its, declared);
    return running(idle, { id: state.jobs + 1, kind: 'field', at, request }, null);
  }
  // An answer or an error of other files must not appear under the names of these.
  if (inputs.map.length === 0 || (planter && !planter.planter)) return idle;
  if (inputs.machines.some((m) => !m.planter.planter)) return idle;
  const failure = tooMany(inputs);
  if (failure) return { ...state, run: failed(failure) };
  const id = state.jobs + 1;
  if (!planter?.planter) return running(idle, { id, kind: 'look', request: requestOf(inputs, null) }, null);
  const job: Job = { id, kind: 'check', request: requestOf(inputs, planter.planter), input: runInput(inputs) };
  return { ...running(idle, job, keep ? shown(state.run) : null), stale: false };
}

const picturesOf = (run: Run): readonly FirstPicture[] => (run.state === 'running' ? run.pictures : []);

/** A later picture takes the place of an earlier one of the same part. */
function withPart(pictures: readonly FirstPicture[], next: FirstPicture): FirstPicture[] {
  return [...pictures.filter((p) => p.part !== next.part && p.part < next.parts), next].sort((a, b) => a.part - b.part);
}

function running(state: State, job: Job, before: Done | null): State {
  return {
    ...state,
    jobs: job.id,
    interrupted: '',
    run: { state: 'running', job, stage: 'starting', done: 0, before, pictures: [] },
  };
}

/** A planter with several plantings, and the user has neither named one nor said that it is not known. */
export function needsPlanting({ planter, planting, unsure }: Inputs): boolean {
  return (planter?.planter?.plantings.length ?? 0) > 1 && planting === '' && !unsure;
}

/** What a field of a list lacks before it can be checked. */
export function lacks({ own }: Pick<Field, 'own'>, inputs: Inputs): 'planter' | 'planting' | null {
  if (own) return own.planter.planter ? null : 'planter';
  if (!inputs.planter?.planter) return 'planter';
  return needsPlanting(inputs) ? 'planting' : null;
}

/** The request to the worker, from the inputs on the sheet. */
export function requestOf(inputs: Inputs, planter: Planter): CheckRequest;
export function requestOf(inputs: Inputs, planter: null): LookRequest;
export function requestOf(inputs: Inputs, planter: Planter | null): CheckRequest | LookRequest {
  const { map, boundary, before, machines, planting, columns, layer, crs, dates, where } = inputs;
  const own = machines.flatMap((m) => (m.planter.planter ? [{ machine: m.machine, planter: m.planter.planter }] : []));
  const named = machines.filter((m) => m.planting !== '');
  return {
    map,
    ...(planter ? { planter } : {}),
    ...(planter && own.length ? { planters: [{ planter }, ...own] } : {}),
    ...(planter && planting ? { planting } : {}),
    ...(planter && named.length ? { plantings: Object.fromEntries(named.map((m) => [m.machine, m.planting])) } : {}),
    ...(planter && before.length ? { before } : {}),
    ...(boundary.length ? { boundary } : {}),
    ...(Object.keys(columns).length ? { columns: columns as Record<string, string> } : {}),
    ...(layer ? { layer } : {}),
    ...(crs ? { crs } : {}),
    ...(dates ? { dates } : {}),
    ...(where ? { where: [where] } : {}),
  };
}

function runInput(inputs: Inputs): RunInput {
  return {
    mapNames: inputs.map.map((f) => f.name),
    beforeNames: inputs.before.map((f) => f.name),
    boundaryNames: inputs.boundary.map((f) => f.name),
    planterName: inputs.planter?.fileName ?? '',
    machines: inputs.machines.map((m) => ({
      machine: m.machine,
      planterName: m.planter.fileName,
      planting: m.planting,
    })),
    planting: inputs.planting,
    columns: inputs.columns,
    layer: inputs.layer,
    crs: inputs.crs,
    dates: inputs.dates,
    where: inputs.where ? `${inputs.where.column}=${inputs.where.value}` : '',
    seedCost: '',
  };
}

/** More maps than can be used; null where each has a use. */
function tooMany({ before, boundary }: Inputs): Failure | null {
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

/** The answer with money, where the price is valid. A comparison has no money, as on the command line. */
function priced(done: Done, seedCost: string): Done {
  const perHa = done.fix ? null : pricePerHa(seedCost);
  return {
    ...done,
    answer: priceSeed(done.answer, perHa),
    input: { ...done.input, seedCost: perHa === null ? '' : seedCost },
  };
}
