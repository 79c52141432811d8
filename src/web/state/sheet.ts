/** The state with the actions that parts of the sheet may use. */
import { useEffect, useMemo, useState } from 'preact/hooks';
import type { Role } from '../../core/answer.ts';
import type { Where } from '../../core/intake/index.ts';
import { mapsOf, planterNotUsed, sortFiles, stem } from '../files.ts';
import { listSamples } from '../samples.ts';
import { auditLeavings, auditTable, readAudit, readReports } from './audit.ts';
import { makeStore, type Store } from './effects.ts';
import { readState } from './planter.ts';
import { dropDraft, forgetPlanter, keepPlanter, keptPlanters, readDraft, takeInterrupted } from './storage.ts';
import { type Inputs, type Own, type PlanterFrom, type PlanterState, START, type State } from './types.ts';

export interface Sheet extends State, Doings {}

interface Doings {
  openFiles(files: readonly File[]): Promise<void>;
  /** The role of each of several maps given together. Roles left out stay unchanged. */
  chooseFiles(chosen: Pick<Inputs, 'map'> & Partial<Pick<Inputs, 'before' | 'boundary'>>): void;
  openSample(id: string, before?: string): void;
  /** `guess`: the proposal that the reader begins with. */
  editPlanter(text: string, guess?: string): void;
  /** The guessed planter is as on the machine. */
  confirmPlanter(): void;
  /** A planter file that was not opened from disk: stored before, or proposed from a map. */
  openPlanter(fileName: string, text: string, from: PlanterFrom): void;
  dropPlanter(): void;
  /** A planter of one machine, by its name in the map. */
  openMachinePlanter(machine: string, fileName: string, text: string, from: PlanterFrom): void;
  dropMachinePlanter(machine: string): void;
  /** '' where it is not known. */
  chooseMachinePlanting(machine: string, planting: string): void;
  keepPlanter(): void;
  forgetPlanter(name: string): void;
  /** '' where it is not known. */
  choosePlanting(name: string): void;
  chooseColumn(role: Role, name: string): void;
  chooseLayer(name: string): void;
  /** "EPSG:32615"; '' for none. */
  chooseSystem(crs: string): void;
  chooseDates(dates: Inputs['dates']): void;
  /** Records that hold a value in a column; null for all. */
  chooseRecords(where: Where | null): void;
  /** Price of the seed, "95/ac"; '' for none. Nothing is checked again for it. */
  chooseSeedCost(price: string): void;
  /** Files of the field boundary; none takes it away. */
  chooseBoundary(files: readonly File[]): void;
  /** Files of the map from before a fix; none takes it away. */
  chooseBefore(files: readonly File[]): void;
  openField(at: number): void;
  /** Compares a field of the list with a planter of its own; null: with that of the list. */
  chooseFieldPlanter(at: number, own: Own | null): void;
  openList(): void;
  startOver(): void;
  check(): void;
  cancel(): void;
}

export function useSheet(): Sheet {
  const [state, setState] = useState<State>(START);
  const store = useMemo(() => makeStore(setState), []);
  const doings = useMemo(() => doingsOf(store), [store]);
  useEffect(() => {
    void wakeUp(store);
  }, [store]);
  return { ...state, ...doings };
}

function doingsOf(store: Store): Doings {
  const { dispatch } = store;
  return {
    openFiles: (files) => openFiles(store, files),
    chooseFiles: (chosen) => dispatch({ type: 'files told apart', chosen }),
    openSample: (id, before = '') => dispatch({ type: 'sample wanted', id, before }),
    editPlanter(text, proposed) {
      const before = store.state.inputs.planter;
      const guess = proposed ?? (before?.from === 'map' ? before.text : before?.guess);
      const edited = readState(text, before?.fileName ?? 'my.planter.json', 'form');
      dispatch({ type: 'planter edited', planter: guess === undefined ? edited : { ...edited, guess } });
    },
    confirmPlanter: () => dispatch({ type: 'planter confirmed' }),
    openPlanter: (fileName, text, from) =>
      dispatch({ type: 'planter opened', planter: readState(text, fileName, from) }),
    dropPlanter: () => dispatch({ type: 'planter dropped' }),
    openMachinePlanter: (machine, fileName, text, from) =>
      dispatch({ type: 'machine planter opened', machine, planter: readState(text, fileName, from) }),
    dropMachinePlanter: (machine) => dispatch({ type: 'machine planter dropped', machine }),
    chooseMachinePlanting: (machine, planting) => dispatch({ type: 'machine planting chosen', machine, planting }),
    keepPlanter() {
      const { planter } = store.state.inputs;
      if (!planter?.planter) return;
      const kept = keepPlanter({ fileName: planter.fileName, name: planter.planter.name, text: planter.text });
      dropDraft();
      dispatch({ type: 'planters kept', ...kept });
    },
    forgetPlanter: (name) => dispatch({ type: 'planters kept', ...forgetPlanter(name) }),
    choosePlanting: (planting) =>
      dispatch(planting === '' ? { type: 'planting not known' } : { type: 'planting chosen', planting }),
    chooseColumn: (role, name) => dispatch({ type: 'column chosen', role, name }),
    chooseLayer: (layer) => dispatch({ type: 'layer chosen', layer }),
    chooseSystem: (crs) => dispatch({ type: 'system chosen', crs }),
    chooseDates: (dates) => dispatch({ type: 'dates chosen', dates }),
    chooseRecords: (where) => dispatch({ type: 'records chosen', where }),
    chooseSeedCost: (seedCost) => dispatch({ type: 'seed price written', seedCost }),
    chooseBoundary: (files) => dispatch({ type: 'boundary chosen', files: [...files] }),
    chooseBefore: (files) => dispatch({ type: 'map before chosen', files: [...files] }),
    openField: (at) => dispatch({ type: 'field wanted', at }),
    chooseFieldPlanter: (at, own) => dispatch({ type: 'field planter chosen', at, own }),
    openList: () => dispatch({ type: 'list wanted' }),
    startOver: () => dispatch({ type: 'started over' }),
    check: () => dispatch({ type: 'check wanted' }),
    cancel: () => dispatch({ type: 'job cancelled' }),
  };
}

async function openFiles({ state, dispatch }: Store, files: readonly File[]): Promise<void> {
  const table = auditTable(files);
  if (table) {
    try {
      dispatch({ type: 'audit opened', fields: await readAudit(table, files), unused: [] });
    } catch (error) {
      dispatch({ type: 'files opened', map: [], planter: null, others: [], unused: [(error as Error).message] });
    }
    return;
  }
  const { says, reports, rest } = await auditLeavings(files);
  if (reports.length > 0 && rest.length === 0) {
    const { fields, unused } = await readReports(reports);
    if (fields.length > 0) {
      dispatch({ type: 'audit opened', fields, unused: [...says, ...unused] });
      if (fields.length === 1) dispatch({ type: 'field wanted', at: 0 });
      return;
    }
    says.push(...unused);
  } else says.push(...reports.map((f) => `"${f.name}" was not used: it is a report of a check. Open it by itself.`));
  const { map, planter, others, unused } = await sortFiles(rest);
  const read = async (file: File): Promise<PlanterState> => readState(await file.text(), file.name);
  // Fields of a list may have different planters; a single map has one.
  const list = mapsOf(map).length > 1 || (map.length === 0 && state.season?.from === 'maps');
  dispatch({
    type: 'files opened',
    map,
    planter: planter && (await read(planter)),
    others: list ? await Promise.all(others.map(read)) : [],
    unused: [...says, ...unused, ...(list || !planter ? [] : others.map((f) => planterNotUsed(f, planter)))],
  });
}

/** On opening the page: report a check that was cut off, offer stored planters, and open the sample in the address. */
async function wakeUp({ dispatch }: Store): Promise<void> {
  void takeInterrupted().then((left) => {
    if (!left) return;
    const planter = left.planter ? readState(left.planter, left.planterName) : null;
    dispatch({ type: 'cut-off check found', map: left.map, planter });
  });
  dispatch({ type: 'planters kept', ...keptPlanters() });
  const draft = readDraft();
  if (draft) dispatch({ type: 'draft found', draft });
  dispatch({ type: 'samples listed', samples: await listSamples() });
  const query = new URLSearchParams(location.search);
  const id = query.get('sample');
  if (id) dispatch({ type: 'sample wanted', id, before: query.get('before') ?? '' });
}

/** A name for a planter file, from what the planter is called. */
export function planterFileName(name: string): string {
  return `${stem(name.toLowerCase().replaceAll(/[^a-z0-9]+/g, '-')) || 'my'}.planter.json`;
}
