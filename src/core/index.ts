/**
 * Guessrow as a library: `import { check } from 'guessrow'`, in Node and in browsers.
 *
 * Maps come in as named bytes (`named`), planters as the text of a planter file (`readPlanter`); `check` gives an `Answer`, and
 * reports are texts made from it. Lengths are meters, areas square meters, across travel + is to the right; angles are degrees
 * clockwise from north; times are milliseconds since 1970 UTC. What the user gave and cannot be worked with throws `UserError`;
 * anything else that is thrown is a fault of the library. Nothing is read, written, fetched or kept between calls.
 *
 * Whoever shows a verdict to a person shows `report.cautions` beside it.
 */
export type {
  Answer,
  AreaSummary,
  ColumnRole,
  DeclaredSummary,
  Diagnosis,
  Evidence,
  Grain,
  LayoutFit,
  MapSummary,
  Observation,
  ObservationKind,
  PassDrawing,
  RecordedSummary,
  Report,
  Role,
  SeamDrawing,
  SeamSummary,
  SectionBand,
} from './answer.ts';
export {
  type CompareOptions,
  type Comparison,
  compare,
  compareEach,
  type MapPlace,
  type SettingOutcome,
} from './compare/index.ts';
export type { AreaDensity, Polygons } from './coverage/index.ts';
export { flatGeobuf, geoJson, geoPackage, geoParquet, inSystem, type Layer, shapefileZip } from './formats/index.ts';
export type { Lattice, Shapes } from './geometry/shapes.ts';
export type { Where } from './intake/index.ts';
export { DEFAULT_LIMITS, type Limits, type NamedBytes, named, type System } from './intake/index.ts';
export {
  check,
  type LibraryCheckInput as CheckInput,
  type LibraryHooks as Hooks,
  type LibraryRebuildInput as RebuildInput,
  rebuild,
  type Signal,
} from './library.ts';
export {
  type Band,
  layoutOf,
  type PlantedLayout,
  type Planter,
  type PlanterFile,
  type Planting,
  type Proposal,
  planterNotes,
  proposeSections,
  type RowRun,
  type RuleBreak,
  readPlanter,
  ruleBreaks,
  type Unit,
} from './planter/index.ts';
export type { Rebuilt } from './rebuild/index.ts';
export type { Change } from './redraw/index.ts';
export {
  drawFrame,
  EXPLANATIONS,
  type Explanation,
  type FrameOptions,
  geoJsonParts,
  type HtmlOptions,
  htmlReport,
  type Paint,
  type TextOptions,
  toCsv,
  toGeoJson,
  toJson,
  toText,
} from './report/index.ts';
export { USER_ERROR_CODES, type UserErrorCode } from './shared/codes.ts';
export { CAUTIONS, type Message, type Note, type Place, UserError } from './shared/messages.ts';
export type { Setting } from './shared/setting.ts';
export { DEFAULT_ACCURACY_M } from './steps/job.ts';
export type { DateOrder } from './track/columns/index.ts';
