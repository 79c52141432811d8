import type { Segment } from '../observe/types.ts';
import type { Unit } from '../planter/types.ts';
import { gapText as gap } from '../planter/units.ts';
import { addObservation, type Facts, type Findings } from './facts.ts';
import { plural } from './phrases.ts';

/** What a segment shows of sections: how many there are, strips between them that stay empty, edges beside the declared ones. Returns the observations' names. */
export function sectionObservations(f: Facts, out: Findings, e: Segment, span: number[]): string[] {
  if (f.grain !== 'section') return [];
  const u = f.planter.unit;
  const ids: string[] = [];
  const declared = f.layout.sectionBands.filter((b) => b !== null);
  const common = { n: e.fullBars, share: e.fullBars / Math.max(1, e.to - e.from), passes: span };
  if (declared.length !== e.bands.length) {
    ids.push(
      addObservation(out, {
        kind: 'section-count',
        says: `${plural(e.bands.length, 'section')} recorded; ${declared.length} of the declared sections plant in this planting.`,
        measuredM: null,
        expectedM: null,
        ...common,
      }),
    );
  }
  for (let i = 1; i < e.bands.length; i++) {
    const hole = holeBefore(e, i);
    if (hole === 0) continue;
    ids.push(
      addObservation(out, {
        kind: 'section-missing',
        says: `A strip ${gap(hole, u)} wide stays empty ${place((e.bands[i].leftM + e.bands[i - 1].rightM) / 2, u)}.`,
        measuredM: hole,
        expectedM: 0,
        ...common,
      }),
    );
  }
  if (declared.length === e.bands.length) {
    const mid = (declared[0].leftM + declared[declared.length - 1].rightM) / 2;
    let worst = 0;
    for (let i = 0; i < declared.length; i++) {
      for (const d of [e.bands[i].leftM - declared[i].leftM + mid, e.bands[i].rightM - declared[i].rightM + mid])
        if (Math.abs(d) > Math.abs(worst)) worst = d;
    }
    if (Math.abs(worst) > 0.02) {
      ids.push(
        addObservation(out, {
          kind: 'section-edges',
          says: `Section edges lie up to ${gap(Math.abs(worst), u)} from the declared ones.`,
          measuredM: Math.abs(worst),
          expectedM: 0,
          ...common,
        }),
      );
    }
  }
  return ids;
}

/** "30 in left of the middle", "in the middle". */
function place(m: number, u: Unit): string {
  return Math.abs(m) < 0.02 ? 'in the middle' : `${gap(Math.abs(m), u)} ${m < 0 ? 'left' : 'right'} of the middle`;
}

/** Width of the strip that stays empty between band i and the one left of it, meters; 0 where they meet. */
export function holeBefore({ bands }: Segment, i: number): number {
  const m = bands[i].leftM - bands[i - 1].rightM;
  return m > 0.05 ? m : 0;
}
