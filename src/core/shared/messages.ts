import type { UserErrorCode } from './codes.ts';

/** Where in the user's input a message points. Records are counted from 1, as a map viewer lists them. */
export interface Place {
  file?: string;
  record?: number;
  key?: string;
}

/** One thing the user should know: a stable code, one sentence, where, and what to do about it. */
export interface Message {
  code: string;
  sentence: string;
  place: Place;
  todo: string;
}

/** Something that was noticed and did not stop the check. Notes are always shown. */
export type Note = Message;

/** The user's file or option cannot be worked with (exit status 2). Anything else that is thrown is our bug. */
export class UserError extends Error {
  readonly detail: Message & { code: UserErrorCode };
  constructor(code: UserErrorCode, sentence: string, place: Place, todo: string) {
    super(sentence);
    this.name = 'UserError';
    this.detail = { code, sentence, place, todo };
  }
}

/**
 * Whether the engine found no room for an array, a text or a table: the words of V8, and of Firefox' and Safari's engines (from memory). Other
 * range errors, such as a length below zero, are bugs and must be reported as such.
 */
export function isOutOfMemory(e: unknown): boolean {
  if (!(e instanceof Error)) return false;
  if (e.name === 'InternalError' || e.name === 'RangeError') {
    if (/^(array buffer allocation failed|invalid string length|(map|set) maximum size exceeded)$/i.test(e.message))
      return true;
    if (/^(allocation size overflow|out of memory)\b/i.test(e.message)) return true;
    // No engine has arrays of so many elements; a length that went wrong is seldom so large, and a whole number.
    const wanted = /^invalid typed array length: (\d+)$/i.exec(e.message);
    return wanted !== null && Number(wanted[1]) > 2 ** 32;
  }
  return (e as { code?: unknown }).code === 'ERR_STRING_TOO_LONG';
}

/** The sentence for it. */
export function outOfMemory(place: Place = {}): UserError {
  return new UserError('out-of-memory', 'The map does not fit into memory.', place, 'Export one field at a time.');
}

/** `sentence` with its place and what to do, as one line of plain text. */
export function line(m: Message): string {
  const at = [m.place.file, m.place.record === undefined ? '' : `record ${m.place.record}`, m.place.key ?? '']
    .filter((s) => s)
    .join(', ');
  return `${at ? `${at}: ` : ''}${m.sentence} ${m.todo} [${m.code}]`;
}

/** What every report carries: the limits of a recorded map, and how to stay safe when confirming it. */
export const CAUTIONS = [
  'This tool reads recorded data. It cannot see seed: confirm by digging behind at least one row of each section.',
  'Before anyone goes near the frame: planter lowered to the ground or blocked on its locks, brake set, engine off, key out, every part at rest.',
  'Treated seed: read the label, wear the gloves and clothes it names, keep out of the dust, cover or pick up every spill, wash before eating.',
  "The planter maker's manual and the local rules come first; where they say otherwise, follow them.",
];

/** The candidate closest to `word` by edits, or null when none is near enough to suggest. */
export function nearest(word: string, candidates: readonly string[]): string | null {
  const w = word.toLowerCase();
  let best: string | null = null;
  let least = Math.max(2, Math.ceil(word.length / 2)) + 0.5;
  for (const c of candidates) {
    const d = edits(w, c.toLowerCase());
    if (d < least) {
      least = d;
      best = c;
    }
  }
  return best;
}

/** Insertions, deletions and exchanges that turn `a` into `b` (Levenshtein distance). */
export function edits(a: string, b: string): number {
  let row = Array.from({ length: b.length + 1 }, (_, i) => i);
  for (let i = 1; i <= a.length; i++) {
    const next = [i];
    for (let j = 1; j <= b.length; j++)
      next[j] = Math.min(next[j - 1] + 1, row[j] + 1, row[j - 1] + (a[i - 1] === b[j - 1] ? 0 : 1));
    row = next;
  }
  return row[b.length];
}

/** A sentence whose first letter is a capital. */
export const upperFirst = (s: string): string => (s === '' ? s : s[0].toUpperCase() + s.slice(1));

/** A sentence as it goes on after a colon; a name in capitals or a number stays as it is. */
export const lowerFirst = (s: string): string => (/^[A-Z][a-z]/.test(s) ? s[0].toLowerCase() + s.slice(1) : s);
