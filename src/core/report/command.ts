import type { Role } from '../answer.ts';

/** What one check was given, as a user would write it. An empty text means that it was left out. */
export interface CommandInput {
  map: string;
  /** The map from before a fix: the command then compares the two. */
  before?: string;
  /** One, or several as they were written: "North 2=sixteen.planter.json". */
  planter: string | readonly string[];
  planting?: string | readonly string[];
  boundary?: string;
  columns?: Partial<Record<Role, string>>;
  layer?: string;
  /** As they were written: "Field=North". */
  where?: readonly string[];
  dates?: string;
  crs?: string;
  /** As they were written: "points=8000000". */
  limits?: readonly string[];
  /** As it was written: "2.5cm". */
  passAccuracy?: string;
  /** As it was written: "95/ac". */
  seedCost?: string;
}

/** The command line that gives the same answer. */
export function commandLine(run: CommandInput): string {
  const option = (name: string, value: string | undefined): string[] => (value ? [`--${name}`, quote(value)] : []);
  return [
    ...(run.before ? ['guessrow compare', quote(run.before)] : ['guessrow check']),
    quote(run.map),
    ...[run.planter].flat().flatMap((p) => option('planter', p)),
    ...[run.planting ?? ''].flat().flatMap((p) => option('planting', p)),
    ...option('boundary', run.boundary),
    ...Object.entries(run.columns ?? {}).flatMap(([role, name]) => option('columns', `${role}=${name}`)),
    ...option('dates', run.dates),
    ...option('layer', run.layer),
    ...(run.where ?? []).flatMap((w) => option('where', w)),
    ...option('crs', run.crs),
    ...(run.limits ?? []).flatMap((l) => option('limit', l)),
    ...option('pass-accuracy', run.passAccuracy),
    ...option('seed-cost', run.seedCost),
  ].join(' ');
}

/** `word` as a POSIX shell reads it back, quotes only where they are needed. A leading dash would be read as an option. */
function quote(word: string): string {
  const safe = word.startsWith('-') ? `./${word}` : word;
  return /^[\w@%+=:,./-]+$/.test(safe) ? safe : `'${safe.replaceAll("'", "'\\''")}'`;
}
