/** Effects of the state: jobs in other threads, the address and its history, and the browser's storage. */
import { CheckFailed, callWorker, type Failure } from '../checker.ts';
import { sampleFile } from '../samples.ts';
import { isGuess, readState } from './planter.ts';
import { reduce } from './reduce.ts';
import { dropDraft, keepDraft, keepPlanter, keptPlanters, noteEnd, noteStart } from './storage.ts';
import { type Action, type Job, START, type State } from './types.ts';

export interface Store {
  readonly state: State;
  dispatch(action: Action): void;
}

/** States with an answer that are kept for the browser's Back; an answer about a large map takes a hundred megabytes. */
const ANSWERS_HELD = 2;

/** A store that calls `changed` with every new state. The effects follow from the state before and after an action. */
export function makeStore(changed: (state: State) => void): Store {
  let state = START;
  let stop: (() => void) | null = null;
  const past = new Map<number, State>();
  const dispatch = (action: Action): void => {
    const before = state;
    state = reduce(before, action);
    if (state === before) return;
    follow(before, state, action);
    changed(state);
  };
  const follow = (before: State, now: State, action: Action): void => {
    const [was, is] = [jobOf(before), jobOf(now)];
    if (was?.id !== is?.id) {
      stop?.();
      stop = null;
      if (was?.kind === 'check') noteEnd();
      if (is) stop = start(is, now, dispatch);
    }
    if (action.type === 'returned') return;
    if (before.visit !== now.visit) {
      remember(past, before);
      history.pushState({ visit: now.visit }, '', addressOf(now.sample));
    } else if (before.sample !== now.sample) history.replaceState({ visit: now.visit }, '', addressOf(now.sample));
    keep(before, now, action, dispatch);
  };
  history.replaceState({ visit: 0 }, '');
  addEventListener('popstate', (event) => {
    remember(past, state);
    const to = past.get((event.state as { visit?: number } | null)?.visit ?? -1);
    if (to) dispatch({ type: 'returned', to });
    else location.reload();
  });
  return {
    get state() {
      return state;
    },
    dispatch,
  };
}

/** Keeps a state for Back, and of older ones only the inputs: their answers are computed again. */
function remember(past: Map<number, State>, state: State): void {
  past.delete(state.visit);
  past.set(state.visit, state);
  const held = [...past].filter(([, s]) => s.run.state === 'done' || s.run.state === 'looked');
  for (const [visit, old] of held.slice(0, -ANSWERS_HELD)) past.set(visit, { ...old, run: { state: 'idle' } });
}

const jobOf = ({ run }: State): Job | null => (run.state === 'running' ? run.job : null);

/** Starts a job; the function that is returned ends it at once. */
function start(job: Job, { inputs }: State, dispatch: (action: Action) => void): () => void {
  const progress = (stage: string, done: number): void => dispatch({ type: 'job got on', job: job.id, stage, done });
  const failed = (error: unknown): void => dispatch({ type: 'job failed', job: job.id, failure: failureOf(error) });
  switch (job.kind) {
    case 'fetch':
      void fetchSample(job, dispatch);
      return () => {};
    case 'look': {
      const running = callWorker('lookAtMap', [job.request], { progress });
      running.result.then((look) => dispatch({ type: 'map looked at', job: job.id, look }), failed);
      return running.cancel;
    }
    case 'field': {
      const running = callWorker('checkField', [job.request], { progress });
      running.result.then((row) => dispatch({ type: 'field checked', job: job.id, row }), failed);
      return running.cancel;
    }
    case 'check': {
      const running = callWorker('checkMap', [job.request], {
        progress,
        picture: (picture) => dispatch({ type: 'map read', job: job.id, picture }),
      });
      noteStart(job.input.mapNames.join(', '), inputs.planter?.fileName ?? '', inputs.planter?.text ?? '');
      running.result.then((checked) => dispatch({ type: 'job done', job: job.id, checked }), failed);
      return running.cancel;
    }
  }
}

function failureOf(error: unknown): Failure {
  return error instanceof CheckFailed ? error.failure : { kind: 'broken', text: String(error) };
}

/** The reader's own planter is stored once a map was checked with it, and while it is being described; one of a sample, or only guessed from a map, is not. */
function keep(before: State, now: State, action: Action, dispatch: (action: Action) => void): void {
  const { planter, machines: own } = now.inputs;
  if (action.type === 'planter edited' && planter)
    keepDraft({ fileName: planter.fileName, name: planter.planter?.name ?? planter.fileName, text: planter.text });
  if (now.run.state !== 'done' || (before.run.state === 'done' && action.type !== 'planter confirmed')) return;
  if (!planter?.planter || planter.from === 'sample' || isGuess(planter)) return;
  const { report, evidence } = now.run.answer;
  const isOwn = (name: string): boolean => own.some((m) => m.machine === name);
  keepPlanter({
    fileName: planter.fileName,
    name: planter.planter.name,
    text: planter.text,
    ...(report.map.columns.machine === undefined ? {} : { machines: evidence.machines.filter((m) => !isOwn(m)) }),
  });
  for (const { machine, planter: p } of own)
    if (p.planter) keepPlanter({ fileName: p.fileName, name: p.planter.name, text: p.text, machines: [machine] });
  dropDraft();
  dispatch({ type: 'planters kept', ...keptPlanters() });
}

async function fetchSample(job: Job & { kind: 'fetch' }, dispatch: (action: Action) => void): Promise<void> {
  try {
    const { sample, before } = job;
    const [planter, ...map] = await Promise.all([sample.planter, ...sample.map].map(sampleFile));
    const earlier = before ? await Promise.all(before.map.map(sampleFile)) : [];
    const state = readState(await planter.text(), planter.name, 'sample');
    dispatch({ type: 'sample fetched', job: job.id, map, before: earlier, planter: state });
  } catch {
    const text =
      'The sample could not be fetched: the page cannot reach its server; you may be offline. Samples that were opened here before work without a network, and a map of your own always does.';
    dispatch({ type: 'job failed', job: job.id, failure: { kind: 'notice', text } });
  }
}

/** The address opens what is on the sheet: a sample by its name, the reader's own files never. */
function addressOf({ id, before }: State['sample']): string {
  const query = id ? `?sample=${encodeURIComponent(id)}${before ? `&before=${encodeURIComponent(before)}` : ''}` : '';
  return location.pathname + query;
}
