/** The state of the sheet, as plain values: actions are in `reduce.ts`, effects in `effects.ts`. */
import type { Role } from '../../core/answer.ts';
import type { Where } from '../../core/intake/index.ts';
import type { Planter } from '../../core/planter/types.ts';
import type { Message } from '../../core/shared/messages.ts';
import type { DateOrder } from '../../core/track/columns/index.ts';
import type { Checked, CheckRequest, FirstPicture, Look, LookRequest } from '../../worker/api.ts';
import type { FieldRow } from '../../worker/rows.ts';
import type { Failure } from '../checker.ts';
import type { RunInput } from '../command.ts';
import type { Sample } from '../samples.ts';
import type { KeptPlanter } from './storage.ts';

/** Where a planter comes from; 'map': proposed from what the map shows, and taken by the reader. */
export type PlanterFrom = 'file' | 'form' | 'kept' | 'sample' | 'map';

export interface PlanterState {
  from: PlanterFrom;
  fileName: string;
  /** The current file, with edits. */
  text: string;
  planter: Planter | null;
  error: Message | null;
  /** The proposal from a map that it was edited from, as a file. Until something of it is changed, it is a guess. */
  guess?: string;
}

/** A machine's own planter. */
export interface MachinePlanter {
  /** By its name in the map. */
  machine: string;
  planter: PlanterState;
  /** What it planted; '' while it is not known. */
  planting: string;
}

/** What may stay when a newer map is opened. */
export type Beside = 'planter' | 'planting' | 'before' | 'boundary';

export interface Inputs {
  map: File[];
  /** The map from before a fix; none where one map is checked alone. */
  before: File[];
  /** Files of the field boundary; none where the reader gave none. */
  boundary: File[];
  /** Which of them stayed when a newer map was opened. */
  kept: Beside[];
  planter: PlanterState | null;
  /** Planters of single machines; all others are compared with `planter`. */
  machines: MachinePlanter[];
  /** '' while it is not known. */
  planting: string;
  /** The user was asked what was planted, and does not know. */
  unsure: boolean;
  columns: Partial<Record<Role, string>>;
  layer: string;
  /** Coordinate system of a map that names none, "EPSG:32615"; '' for none. */
  crs: string;
  /** Order of day and month where dates can be read either way; '' while it is not known. */
  dates: DateOrder | '';
  /** The one condition by which records are chosen; null for all records. */
  where: Where | null;
  /** Price of the seed as it was written, "95/ac"; '' for none. */
  seedCost: string;
}

/** Work in another thread. `id` is never used twice: messages from a job other than the current one are ignored. */
export type Job =
  | { id: number; kind: 'fetch'; sample: Sample; before: Sample | null }
  | { id: number; kind: 'check'; request: CheckRequest; input: RunInput }
  /** A map without a planter. */
  | { id: number; kind: 'look'; request: LookRequest }
  /** A field of the list. */
  | { id: number; kind: 'field'; at: number; request: CheckRequest };

export interface Done extends Checked {
  state: 'done';
  input: RunInput;
  /** The map as it was read, to look at until the map of the answer is drawn. */
  pictures: readonly FirstPicture[];
}

export interface Running {
  state: 'running';
  job: Job;
  stage: string;
  /** Part of the whole job that is done, 0 to 1; it only grows. */
  done: number;
  /** The answer that stays on the sheet while the same map is checked again. */
  before: Done | null;
  /** The map as read, to look at until there is an answer, in one part or two. Empty for a small map. */
  pictures: readonly FirstPicture[];
}

export interface Failed {
  state: 'failed';
  failure: Failure;
}

/** What a map shows on its own. */
export interface Looked extends Look {
  state: 'looked';
  pictures: readonly FirstPicture[];
}

export type Run = { state: 'idle' } | Running | Failed | Looked | Done;

/** A field of the list. */
export interface Field {
  name: string;
  /** Its map; none where only an audit's tables were opened. */
  files: File[];
  /** Null until it was checked. */
  row: FieldRow | null;
  /** Its report as an audit wrote it (JSON); null where it is missing. */
  report: File | null;
  /** Its own planter and what was planted, '' while that is not known; null where those of the list count. */
  own: Own | null;
}

export interface Own {
  planter: PlanterState;
  planting: string;
}

/** Several fields: maps that were opened together, or what an audit wrote. */
export interface Season {
  from: 'maps' | 'audit';
  fields: Field[];
  /** Planters that a field may choose, besides that of the list. */
  planters: PlanterState[];
  /** The planter of the list, while a field with its own is on the sheet. */
  shared: Pick<Inputs, 'planter' | 'planting' | 'unsure' | 'machines'> | null;
}

export interface State {
  samples: Sample[];
  /** Ids of the sample on the sheet and of the one before it in a comparison; '' for none. */
  sample: { id: string; before: string };
  /** Names of the map whose check was cut off when the page was last closed; empty for none. */
  interrupted: string;
  inputs: Inputs;
  run: Run;
  /** The inputs changed since the answer that is shown. */
  stale: boolean;
  /** A sentence for each unused file of the last opening. */
  unused: string[];
  /** Id of the newest job. */
  jobs: number;
  /** Several fields; null where there is one. */
  season: Season | null;
  /** The field of the list that is on the sheet; -1 for the list itself. */
  open: number;
  /** Planters in the browser's storage, or why there are none. */
  kept: { planters: KeptPlanter[]; problem: string };
  /** A planter that was being described when the page was last closed. */
  draft: KeptPlanter | null;
  /** Visits, in the order of the browser's history. */
  visit: number;
  /** The newest visit. */
  visits: number;
}

export const NO_INPUTS: Inputs = {
  map: [],
  before: [],
  boundary: [],
  kept: [],
  planter: null,
  machines: [],
  planting: '',
  unsure: false,
  columns: {},
  layer: '',
  crs: '',
  dates: '',
  where: null,
  seedCost: '',
};

export const NO_SAMPLE: State['sample'] = { id: '', before: '' };

export const START: State = {
  samples: [],
  sample: NO_SAMPLE,
  interrupted: '',
  inputs: NO_INPUTS,
  run: { state: 'idle' },
  stale: false,
  unused: [],
  jobs: 0,
  season: null,
  open: -1,
  kept: { planters: [], problem: '' },
  draft: null,
  visit: 0,
  visits: 0,
};

export type Action =
  | { type: 'samples listed'; samples: Sample[] }
  /** The check that was under way when the page was closed. */
  | { type: 'cut-off check found'; map: string; planter: PlanterState | null }
  /** `others`: planters beside the first, for fields of a list. */
  | { type: 'files opened'; map: File[]; planter: PlanterState | null; others: PlanterState[]; unused: string[] }
  | { type: 'sample wanted'; id: string; before: string }
  | { type: 'sample fetched'; job: number; map: File[]; before: File[]; planter: PlanterState }
  /** The role of each of several maps given together. Roles left out stay unchanged. */
  | { type: 'files told apart'; chosen: Pick<Inputs, 'map'> & Partial<Pick<Inputs, 'before' | 'boundary'>> }
  | { type: 'planter edited'; planter: PlanterState }
  /** The guess is what stands on the machine. */
  | { type: 'planter confirmed' }
  | { type: 'planter opened'; planter: PlanterState }
  | { type: 'planter dropped' }
  | { type: 'machine planter opened'; machine: string; planter: PlanterState }
  | { type: 'machine planting chosen'; machine: string; planting: string }
  | { type: 'machine planter dropped'; machine: string }
  | { type: 'planting chosen'; planting: string }
  | { type: 'planting not known' }
  | { type: 'audit opened'; fields: Field[]; unused: string[] }
  | { type: 'field wanted'; at: number }
  | { type: 'list wanted' }
  | { type: 'field planter chosen'; at: number; own: Own | null }
  | { type: 'started over' }
  /** Back to a visit before. */
  | { type: 'returned'; to: State }
  | { type: 'planters kept'; planters: KeptPlanter[]; problem: string }
  | { type: 'draft found'; draft: KeptPlanter }
  | { type: 'column chosen'; role: Role; name: string }
  | { type: 'layer chosen'; layer: string }
  | { type: 'system chosen'; crs: string }
  | { type: 'dates chosen'; dates: Inputs['dates'] }
  | { type: 'records chosen'; where: Where | null }
  | { type: 'seed price written'; seedCost: string }
  | { type: 'boundary chosen'; files: File[] }
  | { type: 'map before chosen'; files: File[] }
  | { type: 'check wanted' }
  | { type: 'job cancelled' }
  | { type: 'job got on'; job: number; stage: string; done: number }
  | { type: 'map read'; job: number; picture: FirstPicture }
  | { type: 'job done'; job: number; checked: Checked }
  | { type: 'map looked at'; job: number; look: Look }
  | { type: 'field checked'; job: number; row: FieldRow }
  | { type: 'job failed'; job: number; failure: Failure };
