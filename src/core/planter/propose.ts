import { runText } from './rows.ts';
import type { Planter, RowRun } from './types.ts';

export interface Proposal {
  /** Null when no layout keeps the rules within the limit. */
  sections: RowRun[] | null;
  /** Why there is none, or why there are fewer sections than the limit; empty otherwise. */
  why: string;
}

type Frame = Pick<Planter, 'rows' | 'plantings' | 'drives'>;

/**
 * Sections for a frame, its plantings and drives, with at most `limit` of them: as many as keep the rules (a planted row in
 * every planting, no section across drives, a planted one-row section on an odd frame). The one-row section of an odd frame is next to
 * the center line, or as near to it as the rules allow; then the sections are as equal as can be, the smaller ones next to the center line
 * and left of it where both sides are as good.
 *
 * Exact: dynamic programming over the frame's rows, the number of sections and whether the one-row section was met.
 */
export function proposeSections(planter: Frame, limit: number): Proposal {
  const n = planter.rows;
  const most = Math.max(0, Math.min(n, Math.floor(limit)));
  const plants = planter.plantings.map((p) => new Set(p.rows));
  const driveOf = (row: number): number => planter.drives.findIndex((d) => row >= d.first && row <= d.last);
  const always = (row: number): boolean => plants.every((p) => p.has(row));
  // A hair left of the center, so that of two mirrored layouts the one with its single row on the left costs less.
  const center = (n + 1) / 2 - 1e-6;

  /** How far the one-row section lies from the row beside the center line, rows: counts before everything. */
  type Step = { far: number; cost: number; from: number; single: number };
  const less = (a: Step, b: Step): boolean => a.far < b.far || (a.far === b.far && a.cost < b.cost);
  // best[count][single][row]: cheapest way to cut rows 1..row in `count` sections.
  const best: (Step | undefined)[][][] = Array.from({ length: n + 1 }, () => [[], []]);
  best[0][0][0] = { far: 0, cost: 0, from: 0, single: 0 };
  for (let last = 1; last <= n; last++) {
    const have = new Set<number>();
    for (let first = last; first >= 1 && driveOf(first) === driveOf(last); first--) {
      plants.forEach((p, i) => {
        if (p.has(first)) have.add(i);
      });
      if (have.size < plants.length) continue;
      const size = last - first + 1;
      // Equal sizes count before everything; among equals, larger sections further out.
      const cost = size * size * (n * n * n - Math.abs((first + last) / 2 - center));
      const add = (count: number, single: number, then: number, far: number): void => {
        const before = best[count - 1][single][first - 1];
        if (!before) return;
        const step = { far: before.far + far, cost: before.cost + cost, from: first - 1, single };
        const held = best[count][then][last];
        if (!held || less(step, held)) best[count][then][last] = step;
      };
      for (let count = 1; count <= last; count++) {
        add(count, 0, 0, 0);
        add(count, 1, 1, 0);
        // An even frame needs no one-row section, so the place of one does not matter.
        if (size === 1) add(count, 0, 1, n % 2 ? Math.max(0, Math.abs(first - (n + 1) / 2) - 1) : 0);
      }
    }
  }

  const ends = (count: number): number[] => (n % 2 === 1 ? [1] : [0, 1]).filter((s) => best[count][s][n] !== undefined);
  let count = most;
  while (count > 0 && ends(count).length === 0) count--;
  if (count === 0) return { sections: null, why: whyNone(planter, most, always, (c) => ends(c).length > 0) };

  let single = ends(count).reduce((a, b) => (less(best[count][b][n]!, best[count][a][n]!) ? b : a));
  const sections: RowRun[] = [];
  for (let last = n, c = count; last > 0; c--) {
    const step = best[c][single][last]!;
    sections.unshift({ first: step.from + 1, last });
    last = step.from;
    single = step.single;
  }
  return {
    sections,
    why: count < most ? `More than ${count} sections would leave one without a planted row in some planting.` : '',
  };
}

function whyNone(
  planter: Frame,
  limit: number,
  always: (row: number) => boolean,
  feasible: (count: number) => boolean,
): string {
  for (const d of planter.drives) {
    for (const p of planter.plantings) {
      if (!p.rows.some((r) => r >= d.first && r <= d.last))
        return `The drive of ${runText(d)} has no planted row in planting "${p.name}", so no section on it can have one.`;
    }
  }
  for (let c = 1; c <= planter.rows; c++)
    if (feasible(c)) return `At least ${c} sections are needed to keep the rules on this frame; the limit is ${limit}.`;
  const row = Array.from({ length: planter.rows }, (_, i) => i + 1).find(always);
  return row === undefined
    ? 'The frame has an odd number of rows and no row plants in every planting, so the one-row section that it needs cannot plant in all of them.'
    : 'No division of this frame gives every section a planted row in every planting and keeps one such row in a section of its own.';
}
