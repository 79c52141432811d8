/** What the state makes happen outside of it: jobs beside the page's thread, the address, and what the browser keeps. */
import { CheckFailed, callWorker, type Failure } from '../checker.ts';
import { sampleFile } from '../samples.ts';
import { readState } from './planter.ts';
import { reduce } from './reduce.ts';
import { noteEnd, noteStart } from './storage.ts';
import { type Action, type Job, START, type State } from './types.ts';

export interface Store {
  readonly state: State;
  dispatch(action: Action): void;
}

/** A store that tells `changed` of every new state. The effects follow from the state before and after an action. */
export function makeStore(changed: (state: State) => void): Store {
  let state = START;
  let stop: (() => void) | null = null;
  const dispatch = (action: Action): void => {
    const before = state;
    state = reduce(before, action);
    if (state === before) return;
    follow(before, state);
    changed(state);
  };
  const follow = (before: State, now: State): void => {
    const [was, is] = [jobOf(before), jobOf(now)];
    if (was?.id !== is?.id) {
      stop?.();
      stop = null;
      if (was?.kind === 'check') noteEnd();
      if (is) stop = start(is, now, dispatch);
    }
    if (before.sample !== now.sample) writeAddress(now.sample);
  };
  return {
    get state() {
      return state;
    },
    dispatch,
  };
}

const jobOf = ({ run }: State): Job | null => (run.state === 'running' ? run.job : null);

/** Starts a job; the function that is returned ends it at once. */
function start(job: Job, { inputs }: State, dispatch: (action: Action) => void): () => void {
  if (job.kind === 'fetch') {
    void fetchSample(job, dispatch);
    return () => {};
  }
  const running = callWorker('checkMap', [job.request], (stage, done) =>
    dispatch({ type: 'job got on', job: job.id, stage, done }),
  );
  noteStart(job.input.mapNames.join(', '), inputs.planter?.fileName ?? '', inputs.planter?.text ?? '');
  running.result.then(
    (checked) => dispatch({ type: 'job done', job: job.id, checked }),
    (error) => dispatch({ type: 'job failed', job: job.id, failure: failureOf(error) }),
  );
  return running.cancel;
}

export function failureOf(error: unknown): Failure {
  return error instanceof CheckFailed ? error.failure : { kind: 'broken', text: String(error) };
}

async function fetchSample(job: Job & { kind: 'fetch' }, dispatch: (action: Action) => void): Promise<void> {
  try {
    const { sample, before } = job;
    const [planter, ...map] = await Promise.all([sample.planter, ...sample.map].map(sampleFile));
    const earlier = before ? await Promise.all(before.map.map(sampleFile)) : [];
    const state = readState(await planter.text(), planter.name);
    dispatch({ type: 'sample fetched', job: job.id, map, before: earlier, planter: state });
  } catch (error) {
    const text = `The sample could not be fetched: ${String(error)}`;
    dispatch({ type: 'job failed', job: job.id, failure: { kind: 'broken', text } });
  }
}

/** The address opens what is on the sheet: a sample by its name, the reader's own files never. */
function writeAddress({ id, before }: State['sample']): void {
  const query = id ? `?sample=${encodeURIComponent(id)}${before ? `&before=${encodeURIComponent(before)}` : ''}` : '';
  history.replaceState(null, '', location.pathname + query);
}
