import { field, metersOf } from '../settings/help.ts';
import { drawField, toGeoJson } from './index.ts';
import { type InventedPlanter, PLANTERS, rowsOf } from './planters.ts';
import type { Belief } from './spec.ts';
import { workTogether } from './together.ts';

export const LENGTH_M = 130;
export const PASSES = 4;
const { sixteen, fifteen } = PLANTERS;

/** The machines, by the name that the map gives them in the column `unit_no`. */
export const MACHINES = {
  North: { planter: sixteen, planting: 'corn', lon: 8.1 },
  South: { planter: fifteen, planting: 'narrow', lon: 8.102 },
} as const;
export type Machine = keyof typeof MACHINES;

/** Working width, meters. */
export const widthOf = (p: InventedPlanter, planting: string): number => p.file.passSpacing[planting] * metersOf(p);

/** A display that was left on fewer rows: twelve of sixteen, or eleven of fifteen. */
export const FEWER: Readonly<Record<Machine, Partial<Belief>>> = {
  North: { rows: 12, planted: rowsOf(12, 'all'), sections: sixteen.as('corn').sections.slice(0, 6) },
  South: {
    rows: 11,
    planted: rowsOf(11, 'all'),
    sections: fifteen.as('narrow').sections.filter(([, last]) => last <= 11),
  },
};

/** A field that two machines worked at the same time, side by side; `wrong` are those whose display was left on fewer rows. */
export function twoMachines(wrong: readonly Machine[], startMs = 0): Uint8Array {
  const shares = (Object.keys(MACHINES) as Machine[]).map((name, i) => {
    const { planter, planting, lon } = MACHINES[name];
    const drawn = drawField(
      field(planter, planting, {
        seed: 5,
        origin: { lat: 47.2, lon },
        headingDeg: 0,
        shape: { kind: 'strip', lengthM: LENGTH_M, passes: PASSES },
        columns: { time: { name: 'logged', as: 'epoch-ms' }, section: { name: 'sec' } },
        ...(wrong.includes(name) ? { belief: FEWER[name] } : {}),
      }),
    );
    return { name, drawn, drives: () => true, startsMs: startMs + 15_000 * i };
  });
  return toGeoJson(workTogether(shares, 'logged', 'unit_no'));
}
