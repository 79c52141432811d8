/** The state with everything that a part of the sheet may do to it. */
import { useEffect, useMemo, useState } from 'preact/hooks';
import type { Role } from '../../core/answer.ts';
import type { Where } from '../../core/intake/index.ts';
import { sortFiles } from '../files.ts';
import { listSamples } from '../samples.ts';
import { makeStore, type Store } from './effects.ts';
import { readState } from './planter.ts';
import { takeInterrupted } from './storage.ts';
import { type Inputs, START, type State } from './types.ts';

export interface Sheet extends State, Doings {}

export interface Doings {
  openFiles(files: readonly File[]): Promise<void>;
  /** What each of several maps is that were given together. What is left out stays as it was. */
  chooseFiles(chosen: Pick<Inputs, 'map'> & Partial<Pick<Inputs, 'before' | 'boundary'>>): void;
  openSample(id: string, before?: string): void;
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
    async openFiles(files) {
      const { map, planter, unused } = await sortFiles(files);
      const read = planter && readState(await planter.text(), planter.name);
      dispatch({ type: 'files opened', map, planter: read, unused });
    },
    chooseFiles: (chosen) => dispatch({ type: 'files told apart', chosen }),
    openSample: (id, before = '') => dispatch({ type: 'sample wanted', id, before }),
    editPlanter(text) {
      const fileName = store.state.inputs.planter?.fileName ?? 'my.planter.json';
      dispatch({ type: 'planter edited', planter: readState(text, fileName) });
    },
    choosePlanting: (planting) => dispatch({ type: 'planting chosen', planting }),
    chooseColumn: (role, name) => dispatch({ type: 'column chosen', role, name }),
    chooseLayer: (layer) => dispatch({ type: 'layer chosen', layer }),
    chooseRecords: (where) => dispatch({ type: 'records chosen', where }),
    chooseSeedCost: (seedCost) => dispatch({ type: 'seed price written', seedCost }),
    chooseBoundary: (files) => dispatch({ type: 'boundary chosen', files: [...files] }),
    chooseBefore: (files) => dispatch({ type: 'map before chosen', files: [...files] }),
    openPlanter: (fileName, text) => dispatch({ type: 'planter opened', planter: readState(text, fileName) }),
    check: () => dispatch({ type: 'check wanted' }),
    cancel: () => dispatch({ type: 'job cancelled' }),
  };
}

/** What is done when the page opens: what was cut off is said, and the sample of the address is opened. */
async function wakeUp({ dispatch }: Store): Promise<void> {
  void takeInterrupted().then((left) => {
    if (!left) return;
    const planter = left.planter ? readState(left.planter, left.planterName) : null;
    dispatch({ type: 'cut-off check found', map: left.map, planter });
  });
  dispatch({ type: 'samples listed', samples: await listSamples() });
  const query = new URLSearchParams(location.search);
  const id = query.get('sample');
  if (id) dispatch({ type: 'sample wanted', id, before: query.get('before') ?? '' });
}
