/**
 * The change log of a rebuilt map in columns: some hundred thousand objects with their texts take the page seconds to receive, during which it stands
 * still; arrays that change hands take none.
 */
import type { Change } from '../core/redraw/index.ts';

/** One entry for each change; NaN where a number is null, code 0 where a text is. */
export interface Changes {
  output: Float64Array;
  pass: Float64Array;
  wasWidthM: Float64Array;
  widthM: Float64Array;
  inM2: Float64Array;
  cutM2: Float64Array;
  outM2: Float64Array;
  differenceM2: Float64Array;
  done: Words<Change['done']>;
  why: Words;
  section: Words;
  planter: Words;
  /** All `from` one after the other, and where each ends. */
  from: { text: string; end: Uint32Array };
}

/** Texts of which there are few, by their number from 1. */
interface Words<Word extends string = string> {
  words: Word[];
  code: Uint32Array;
}

export function packChanges(changes: readonly Change[]): Changes {
  const numbers = (of: (c: Change) => number | null): Float64Array => Float64Array.from(changes, (c) => of(c) ?? NaN);
  const end = new Uint32Array(changes.length);
  let length = 0;
  changes.forEach((c, i) => {
    length += c.from.length;
    end[i] = length;
  });
  return {
    output: numbers((c) => c.output),
    pass: numbers((c) => c.pass),
    wasWidthM: numbers((c) => c.wasWidthM),
    widthM: numbers((c) => c.widthM),
    inM2: numbers((c) => c.inM2),
    cutM2: numbers((c) => c.cutM2),
    outM2: numbers((c) => c.outM2),
    differenceM2: numbers((c) => c.differenceM2),
    done: wordsOf(changes, (c) => c.done),
    why: wordsOf(changes, (c) => c.why),
    section: wordsOf(changes, (c) => c.section),
    planter: wordsOf(changes, (c) => c.planter),
    from: { text: changes.map((c) => c.from).join(''), end },
  };
}

function wordsOf<Word extends string>(changes: readonly Change[], of: (c: Change) => Word | null): Words<Word> {
  const codes = new Map<Word, number>();
  const code = new Uint32Array(changes.length);
  changes.forEach((c, i) => {
    const word = of(c);
    if (word === null) return;
    const known = codes.get(word);
    code[i] = known ?? codes.size + 1;
    if (known === undefined) codes.set(word, codes.size + 1);
  });
  return { words: [...codes.keys()], code };
}

/** One change of the log, by its place in it. */
export function changeAt(changes: Changes, i: number): Change {
  const number = (v: Float64Array): number | null => (Number.isNaN(v[i]) ? null : v[i]);
  const word = <W extends string>({ words, code }: Words<W>): W | null => (code[i] === 0 ? null : words[code[i] - 1]);
  const { text, end } = changes.from;
  return {
    output: number(changes.output),
    done: word(changes.done)!,
    why: word(changes.why)!,
    from: text.slice(i === 0 ? 0 : end[i - 1], end[i]),
    pass: number(changes.pass),
    section: word(changes.section),
    planter: word(changes.planter),
    wasWidthM: number(changes.wasWidthM),
    widthM: number(changes.widthM),
    inM2: changes.inM2[i],
    cutM2: changes.cutM2[i],
    outM2: changes.outM2[i],
    differenceM2: changes.differenceM2[i],
  };
}

export function unpackChanges(changes: Changes): Change[] {
  return Array.from(changes.output, (_, i) => changeAt(changes, i));
}
