import { read } from '../../src/core/intake/index.ts';
import { readPlanter } from '../../src/core/planter/index.ts';
import type { Planter } from '../../src/core/planter/types.ts';
import { type Fitted, fitMap } from '../../src/core/steps/fit/index.ts';
import { jobOf } from '../../src/core/steps/job.ts';
import type { Drawn } from './draw.ts';

/** A planter file whose sections are the drawn ones: rows a tenth of a meter apart at most, as many as fit. */
export function planterOf(edgesM: readonly number[], rowM: number): Planter {
  const sections: string[] = [];
  let row = 1;
  for (let k = 0; k + 1 < edgesM.length; k++) {
    const rows = Math.round((edgesM[k + 1] - edgesM[k]) / rowM);
    sections.push(rows === 1 ? `${row}` : `${row}-${row + rows - 1}`);
    row += rows;
  }
  const file = { name: 'Drawn', unit: 'm', rows: row - 1, rowSpacing: rowM, plantings: { all: 'all' }, sections };
  return readPlanter(JSON.stringify(file), 'drawn.planter.json');
}

export async function readDrawn(
  drawn: Drawn,
  planter: Planter,
  columns: Partial<Record<string, string>> = {},
): Promise<Fitted & { records: Awaited<ReturnType<typeof read>> }> {
  const bytes = new TextEncoder().encode(drawn.geojson);
  const file = {
    name: 'drawn.geojson',
    sizeBytes: bytes.length,
    async *chunks() {
      yield bytes;
    },
  };
  const records = await read([file], {});
  const [fitted] = fitMap(records, jobOf({ planter, planting: 'all', columns }));
  return { ...fitted, records };
}

export interface Score {
  /** Part of the drawn area that lies in the bars of passes. */
  placed: number;
  /** Bars that hold records of two instants, and instants in two bars: parts of all bars. */
  mixed: number;
  torn: number;
  /** Passes found, runs drawn; passes that hold records of two runs; runs in more than one pass. */
  passes: number;
  runs: number;
  mixedPasses: number;
  tornRuns: number;
  /** Part of the bars whose direction is the driven one, and of those whose records lie left to right in the order of their sections. */
  travel: number;
  order: number;
  from: string;
}

/** Compares what was read with what was drawn. */
export function score(drawn: Drawn, { passes, records }: Awaited<ReturnType<typeof readDrawn>>): Score {
  const { quads, barStart, barQuad, passStart, corner, right } = passes;
  let area = 0;
  for (let i = 0; i < barQuad.length; i++) {
    let a = 0;
    for (let k = 0; k < 8; k += 2) {
      const [x, y] = [8 * i + k, 8 * i + ((k + 2) & 7)];
      a += corner[x] * corner[y + 1] - corner[y] * corner[x + 1];
    }
    area += a / 2;
  }
  const truth = (i: number) => drawn.records[records.recordNumber[quads.record[barQuad[i]]] - 1];
  let mixed = 0;
  let travel = 0;
  let order = 0;
  const barsOf = new Map<number, Set<number>>();
  const passesOf = new Map<number, Set<number>>();
  let mixedPasses = 0;
  for (let p = 0; p + 1 < passStart.length; p++) {
    const runs = new Set<number>();
    for (let b = passStart[p]; b < passStart[p + 1]; b++) {
      const instants = new Set<number>();
      let rising = true;
      for (let i = barStart[b]; i < barStart[b + 1]; i++) {
        const t = truth(i);
        instants.add(t.instant);
        runs.add(t.run);
        if (i > barStart[b] && t.section < truth(i - 1).section) rising = false;
        barsOf.set(t.instant, (barsOf.get(t.instant) ?? new Set()).add(b));
        passesOf.set(t.run, (passesOf.get(t.run) ?? new Set()).add(p));
      }
      if (instants.size > 1) mixed++;
      if (rising) order++;
      const h = (truth(barStart[b]).headingDeg * Math.PI) / 180;
      if (right[2 * b] * Math.cos(h) - right[2 * b + 1] * Math.sin(h) > 0.7) travel++;
    }
    if (runs.size > 1) mixedPasses++;
  }
  const bars = passes.bars || 1;
  return {
    placed: area / drawn.areaM2,
    mixed: mixed / bars,
    torn: [...barsOf.values()].filter((s) => s.size > 1).length / (barsOf.size || 1),
    passes: passStart.length - 1,
    runs: new Set(drawn.records.map((r) => r.run)).size,
    mixedPasses,
    tornRuns: [...passesOf.values()].filter((s) => s.size > 1).length,
    travel: travel / bars,
    order: order / bars,
    from: passes.travelFrom,
  };
}
