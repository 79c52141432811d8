/** Everything the sheet holds, and what can be done with it. */
import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import type { Role } from '../core/answer.ts';
import type { Where } from '../core/check.ts';
import { type Message, UserError } from '../core/messages.ts';
import { listWords, pricePerHa, readPlanter } from '../core/planter/index.ts';
import type { Planter } from '../core/planter/types.ts';
import { priceSeed } from '../core/summary.ts';
import type { Checked, CheckRequest } from '../worker/api.ts';
import { CheckFailed, callWorker, type Failure, type Running } from './checker.ts';
import type { RunInput } from './command.ts';
import { mapName, mapsOf, sortFiles } from './files.ts';
import { noteEnd, noteStart, takeInterrupted } from './kept.ts';
import { listSamples, type Sample, sampleFile } from './samples.ts';

export type Run =
  | { state: 'idle' }
  | { state: 'running'; stage: string; done: number; before: Done | null }
  /** 'several': more than one map was given to check, and the reader has to say what each is. */
  | { state: 'failed'; failure: Failure | { kind: 'several' } }
  | Done;

export interface Done extends Checked {
  state: 'done';
  input: RunInput;
}

/** The answer on the sheet: of the last check, or of the one before while the same map is checked again. */
export function shown(run: Run): Done | null {
  if (run.state === 'done') return run;
  return run.state === 'running' ? run.before : null;
}

/** The answer on the sheet is of a planter that was changed since. */
export function isOld({ run, stale }: Pick<Sheet, 'run' | 'stale'>): boolean {
  return run.state === 'done' && stale;
}

export interface PlanterState {
  fileName: string;
  /** The file as it stands, edits included. */
  text: string;
  planter: Planter | null;
  error: Message | null;
}

export interface Inputs {
  map: File[];
  /** The map from before a fix; none where one map is checked by itself. */
  before: File[];
  /** Files of the field boundary; none where the reader gave none. */
  boundary: File[];
  /** Which of the two stayed when a newer map was opened. */
  kept: ('before' | 'boundary')[];
  planter: PlanterState | null;
  /** '' lets the map tell. */
  planting: string;
  columns: Partial<Record<Role, string>>;
  layer: string;
  /** The one condition by which records are chosen; null for all records. */
  where: Where | null;
  /** Price of the seed as it was written, "95/ac"; '' for none. */
  seedCost: string;
}

export interface Sheet {
  samples: Sample[];
  sampleId: string;
  /** Names of the map whose check was cut off when the page was last closed; empty for none. */
  interrupted: string;
  inputs: Inputs;
  run: Run;
  /** The inputs changed since the answer that is shown. */
  stale: boolean;
  /** What was opened last and is not used: a sentence for each file. */
  unused: string[];
  openFiles(files: readonly File[]): Promise<void>;
  /** What each of several maps is that were given together. What is left out stays as it was. */
  chooseFiles(chosen: Pick<Inputs, 'map'> & Partial<Pick<Inputs, 'before' | 'boundary'>>): void;
  openSample(id: string, beforeId?: string): Promise<void>;
  editPlanter(text: string): void;
  choosePlanting(name: string): void;
  chooseColumn(role: Role, name: string): void;
  chooseLayer(name: string): void;
  /** Records that hold a value in a column; null for all. */
  chooseRecords(where: Where | null): void;
  /** Price of the seed, "95/ac"; '' for none. Nothing is checked again for it. */
  chooseSeedCost(price: string): void;
  /** Files of the field boundary; none takes it away. */
  chooseBoundary(files: readonly File[]): void;
  /** Files of the map from before a fix; none takes it away. */
  chooseBefore(files: readonly File[]): void;
  /** A planter file as it was kept. */
  openPlanter(fileName: string, text: string): void;
  check(): void;
  cancel(): void;
}

const EMPTY: Inputs = {
  map: [],
  before: [],
  boundary: [],
  kept: [],
  planter: null,
  planting: '',
  columns: {},
  layer: '',
  where: null,
  seedCost: '',
};

export function useSheet(): Sheet {
  const [samples, setSamples] = useState<Sample[]>([]);
  const [sampleId, setSampleId] = useState('');
  const [inputs, setInputs] = useState<Inputs>(EMPTY);
  const [run, setRun] = useState<Run>({ state: 'idle' });
  const [stale, setStale] = useState(false);
  const [unused, setUnused] = useState<string[]>([]);
  const [interrupted, setInterrupted] = useState('');
  const running = useRef<Running<Checked> | null>(null);
  const sampleBefore = useRef<File[]>([]);
  const latest = useRef(inputs);
  latest.current = inputs;
  const lastRun = useRef(run);
  lastRun.current = run;

  const actions = useMemo(() => {
    const put = (change: Partial<Inputs>): Inputs => {
      latest.current = { ...latest.current, ...change };
      setInputs(latest.current);
      setStale(true);
      return latest.current;
    };

    /** Ends the check that is under way; it says nothing more. */
    const stop = (): void => {
      const old = running.current;
      running.current = null;
      old?.cancel();
    };

    const start = (now: Inputs, keep: boolean): void => {
      stop();
      const failure = tooMany(now);
      if (failure) {
        if (lastRun.current.state === 'running') noteEnd();
        setRun({ state: 'failed', failure });
        return;
      }
      const planter = now.planter?.planter;
      if (!planter || now.map.length === 0) {
        // An answer, or what was wrong with other files, must not stand under the names of these.
        if (lastRun.current.state === 'running') noteEnd();
        setRun({ state: 'idle' });
        return;
      }
      const before = keep ? shown(lastRun.current) : null;
      setRun({ state: 'running', stage: 'starting', done: 0, before });
      setStale(false);
      const request: CheckRequest = { map: now.map, planter };
      if (now.planting) request.planting = now.planting;
      if (Object.keys(now.columns).length) request.columns = now.columns as Record<string, string>;
      if (now.layer) request.layer = now.layer;
      if (now.where) request.where = [now.where];
      if (now.boundary.length) request.boundary = now.boundary;
      if (now.before.length) request.before = now.before;
      const input: RunInput = {
        mapNames: now.map.map((f) => f.name),
        beforeNames: now.before.map((f) => f.name),
        boundaryNames: now.boundary.map((f) => f.name),
        planterName: now.planter?.fileName ?? '',
        planting: now.planting,
        columns: now.columns,
        layer: now.layer,
        where: now.where ? `${now.where.column}=${now.where.value}` : '',
        seedCost: '',
      };
      const mine = callWorker('checkMap', [request], (stage, done) => {
        if (running.current === mine) setRun({ state: 'running', stage, done, before });
      });
      running.current = mine;
      noteStart(input.mapNames.join(', '), now.planter?.fileName ?? '', now.planter?.text ?? '');
      setInterrupted('');
      mine.result.then(
        (checked) => {
          if (running.current !== mine) return;
          noteEnd();
          setRun(priced({ state: 'done', ...checked, input }, latest.current.seedCost));
        },
        (error) => {
          if (running.current !== mine) return;
          noteEnd();
          setRun({
            state: 'failed',
            failure: error instanceof CheckFailed ? error.failure : { kind: 'broken', text: String(error) },
          });
        },
      );
    };

    /** What goes on beside a newer map: the strip driven after a fix is held against the same map from before. A sample takes its own along. */
    const besides = (ofSample: boolean): Pick<Inputs, 'before' | 'boundary' | 'kept'> => {
      const { before, boundary } = latest.current;
      const now = {
        before: ofSample || before === sampleBefore.current ? [] : before,
        boundary: ofSample ? [] : boundary,
      };
      return { ...now, kept: (['before', 'boundary'] as const).filter((k) => now[k].length > 0) };
    };

    const openFiles = async (files: readonly File[], planting?: string, before?: File[]): Promise<void> => {
      const sorted = await sortFiles(files);
      setUnused(sorted.unused);
      const change: Partial<Inputs> = {};
      if (sorted.map.length > 0)
        Object.assign(change, {
          map: sorted.map,
          ...besides(before !== undefined),
          columns: {},
          layer: '',
          where: null,
        });
      if (sorted.planter)
        Object.assign(change, { planter: readState(await sorted.planter.text(), sorted.planter.name), planting: '' });
      if (planting !== undefined) change.planting = planting;
      if (before) {
        change.before = before;
        sampleBefore.current = before;
      }
      start(put(change), false);
    };

    const without = (one: 'before' | 'boundary'): Pick<Inputs, 'kept'> => ({
      kept: latest.current.kept.filter((k) => k !== one),
    });

    return {
      openFiles: (files: readonly File[]) => {
        setSampleId('');
        address('');
        return openFiles(files);
      },
      chooseFiles: (chosen: Parameters<Sheet['chooseFiles']>[0]) => {
        const kept = latest.current.kept.filter((k) => !(k in chosen));
        start(put({ ...chosen, kept }), false);
      },
      openSample: async (sample: Sample, before?: Sample): Promise<void> => {
        setSampleId(sample.id);
        address(`?sample=${encodeURIComponent(sample.id)}${before ? `&before=${encodeURIComponent(before.id)}` : ''}`);
        stop();
        setRun({ state: 'running', stage: 'fetching the sample', done: 0, before: null });
        try {
          const files = await Promise.all([...sample.map, sample.planter].map(sampleFile));
          const earlier = before ? await Promise.all(before.map.map(sampleFile)) : [];
          await openFiles(files, sample.planting, earlier);
        } catch (error) {
          setRun({
            state: 'failed',
            failure: { kind: 'broken', text: `The sample could not be fetched: ${String(error)}` },
          });
        }
      },
      editPlanter: (text: string): void => {
        const before = latest.current.planter;
        const next = readState(text, before?.fileName ?? 'my.planter.json');
        const names = next.planter?.plantings.map((p) => p.name);
        const keep = !names || names.includes(latest.current.planting);
        put({ planter: next, ...(keep ? {} : { planting: '' }) });
      },
      choosePlanting: (planting: string) => start(put({ planting }), true),
      chooseColumn: (role: Role, name: string): void => {
        const { [role]: _, ...others } = latest.current.columns;
        start(put({ columns: name ? { ...others, [role]: name } : others }), true);
      },
      chooseBoundary: (files: readonly File[]) => start(put({ boundary: [...files], ...without('boundary') }), true),
      chooseBefore: (files: readonly File[]) => start(put({ before: [...files], ...without('before') }), true),
      openPlanter: (fileName: string, text: string): void => {
        start(put({ planter: readState(text, fileName), planting: '' }), true);
      },
      chooseLayer: (layer: string) => start(put({ layer }), true),
      chooseRecords: (where: Where | null) => start(put({ where }), true),
      chooseSeedCost: (seedCost: string): void => {
        latest.current = { ...latest.current, seedCost };
        setInputs(latest.current);
        setRun((run) =>
          run.state === 'done'
            ? priced(run, seedCost)
            : run.state === 'running' && run.before
              ? { ...run, before: priced(run.before, seedCost) }
              : run,
        );
      },
      check: () => start(latest.current, true),
      cancel: () => running.current?.cancel(),
    };
  }, []);

  useEffect(() => {
    void takeInterrupted().then((left) => {
      if (!left || latest.current.map.length > 0) return;
      setInterrupted(left.map);
      if (!left.planter || latest.current.planter) return;
      latest.current = { ...latest.current, planter: readState(left.planter, left.planterName) };
      setInputs(latest.current);
    });
    void listSamples().then((list) => {
      setSamples(list);
      const query = new URLSearchParams(location.search);
      const wanted = query.get('sample');
      if (!wanted) return;
      const found = list.find((s) => s.id === wanted);
      const before = list.find((s) => s.id === query.get('before'));
      if (found) void actions.openSample(found, before);
      else
        setRun({
          state: 'failed',
          failure: { kind: 'broken', text: `There is no sample called "${wanted}". Choose one from the list.` },
        });
    });
  }, [actions]);

  return {
    samples,
    sampleId,
    interrupted,
    inputs,
    run,
    stale,
    unused,
    ...actions,
    openSample: async (id, beforeId) => {
      const found = samples.find((s) => s.id === id);
      const before = samples.find((s) => s.id === beforeId);
      if (found) await actions.openSample(found, before);
    },
  };
}

/** More maps than there is a use for; null where each has its own. */
function tooMany({ map, before, boundary }: Inputs): (Run & { state: 'failed' })['failure'] | null {
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

/** The answer in money too, where the price is one. A comparison has none, as on the command line. */
function priced(done: Done, seedCost: string): Done {
  const perHa = done.fix ? null : pricePerHa(seedCost);
  return {
    ...done,
    answer: priceSeed(done.answer, perHa),
    input: { ...done.input, seedCost: perHa === null ? '' : seedCost },
  };
}

/** The address opens what is on the sheet: a sample by its name, the reader's own files never. */
function address(query: string): void {
  history.replaceState(null, '', location.pathname + query);
}

/** A planter file's text with the planter it declares, or the sentence that says why it declares none. */
export function readState(text: string, fileName: string): PlanterState {
  try {
    return { fileName, text, planter: readPlanter(text, fileName), error: null };
  } catch (error) {
    if (error instanceof UserError) return { fileName, text, planter: null, error: error.detail };
    throw error;
  }
}
