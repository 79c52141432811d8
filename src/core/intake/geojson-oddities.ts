import type { Note } from '../shared/messages.ts';

/** Oddities of records that are still read, with the note for `n` records. */
const ODDITIES = {
  otherParts: {
    code: 'parts-left-out',
    sentence: (n: number) => `${n} record(s) hold points or lines beside polygons; only the polygons were read.`,
    todo: 'No action needed, unless the points or lines matter.',
  },
  oddProperties: {
    code: 'properties-not-an-object',
    sentence: (n: number) =>
      `${n} record(s) have properties that are not an object; they were read without attributes.`,
    todo: 'Export the map again if attributes matter.',
  },
  keyTwice: {
    code: 'keys-twice',
    sentence: (n: number) => `${n} record(s) hold a key twice; the last one was taken.`,
    todo: 'Export the map again if attributes matter.',
  },
  noNumber: {
    code: 'no-numbers',
    sentence: (n: number) =>
      `${n} record(s) hold values such as NaN, Infinity or 1e400, which are not JSON numbers; they count as missing.`,
    todo: 'No action needed, unless these values matter.',
  },
} as const;

type Oddity = keyof typeof ODDITIES;

/** Number of records with an oddity, and the first of them, by oddity. */
export type PackedOddities = [Oddity, { count: number; record: number }][];

/** Counts records with something odd, and remembers the first of each kind. */
export class Oddities {
  private readonly found = new Map<Oddity, { count: number; record: number }>();

  count(oddity: Oddity, row: number): void {
    const seen = this.found.get(oddity);
    if (seen) seen.count++;
    else this.found.set(oddity, { count: 1, record: row + 1 });
  }

  pack(): PackedOddities {
    return [...this.found];
  }

  /** Adds the oddities of later records, which count from 1 after the first `records`. */
  append(oddities: PackedOddities, records: number): void {
    for (const [oddity, { count, record }] of oddities) {
      const seen = this.found.get(oddity);
      if (seen) seen.count += count;
      else this.found.set(oddity, { count, record: records + record });
    }
  }

  report(file: string, notes: Note[]): void {
    for (const oddity of Object.keys(ODDITIES) as Oddity[]) {
      const seen = this.found.get(oddity);
      if (!seen) continue;
      const { code, sentence, todo } = ODDITIES[oddity];
      notes.push({ code, sentence: sentence(seen.count), place: { file, record: seen.record }, todo });
    }
  }
}
