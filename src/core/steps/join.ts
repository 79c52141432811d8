/** The passes of all machines together, in the order of their numbers: what the ground is measured with. */

import type { Lattice } from '../geometry/shapes.ts';
import { joinShapes } from '../geometry/shapes.ts';
import type { RecordedBands } from '../observe/index.ts';
import type { Plane } from '../plane/index.ts';
import { layPlanted, type Planted } from '../planted/index.ts';
import { gatherPasses } from '../track/origins.ts';
import type { Passes } from '../track/types.ts';
import type { Fitted } from './fit/index.ts';

/** A field as all of its machines worked it. */
export interface Field {
  passes: Passes;
  bands: RecordedBands;
  planted: Planted;
  plane: Plane;
  fine: Lattice;
  /** Declared working width of the first machine, meters. */
  declaredM: number;
}

export function joinMachines(machines: readonly Fitted[]): Field {
  const tracks = joinTracks(machines);
  return { ...tracks, planted: joinPlanted(machines, tracks.passes) };
}

/** A field without its planted picture. */
export function joinTracks(machines: readonly Fitted[]): Omit<Field, 'planted'> {
  const { passes, bands } = joinPasses(machines);
  const { plane, fine, layout } = machines[0];
  return { passes, bands, plane, fine, declaredM: layout.workingWidthM };
}

/** The passes of all machines in the order of their numbers, with the bands that each machine's own layout gives them. */
function joinPasses(parts: readonly Fitted[]): { passes: Passes; bands: RecordedBands } {
  if (parts.length === 1) return parts[0];
  const list = parts
    .flatMap((part) => Array.from(part.passes.number, (number, pass) => ({ part, passes: part.passes, number, pass })))
    .sort((a, b) => a.number - b.number);
  const passes = gatherPasses(list);
  const firstSegment = new Map<Fitted, number>();
  const bands: RecordedBands = {
    segments: parts.flatMap((part) => part.bands.segments),
    segment: new Uint16Array(passes.bars),
    full: new Uint8Array(passes.bars),
    slot: new Int16Array(passes.barQuad.length),
    middleM: new Float64Array(passes.bars),
  };
  parts.reduce((n, part) => {
    firstSegment.set(part, n);
    return n + part.bands.segments.length;
  }, 0);
  let bar = 0;
  let slot = 0;
  for (const { part, pass } of list) {
    const { passStart, barStart } = part.passes;
    const [from, to] = [passStart[pass], passStart[pass + 1]];
    const own = part.bands.slot.subarray(barStart[from], barStart[to]);
    for (let b = from; b < to; b++)
      bands.segment[bar + b - from] = part.bands.segment[b] + (firstSegment.get(part) as number);
    bands.full.set(part.bands.full.subarray(from, to), bar);
    bands.middleM.set(part.bands.middleM.subarray(from, to), bar);
    bands.slot.set(own, slot);
    bar += to - from;
    slot += own.length;
  }
  return { passes, bands };
}

/** What all machines put in the ground; bars are those of `passes`, all machines together. */
export function joinPlanted(parts: readonly Fitted[], passes: Passes): Planted {
  const each = parts.map((p) => layPlanted(p.passes, p.rows, p.layout, p.plane, p.fine));
  if (each.length === 1) return each[0];
  const at = new Map(Array.from(passes.number, (number, pass) => [number, passes.passStart[pass]]));
  const bars = parts.map((part) => {
    const out = new Uint32Array(part.passes.bars);
    for (let p = 0; p + 1 < part.passes.passStart.length; p++)
      for (let b = part.passes.passStart[p]; b < part.passes.passStart[p + 1]; b++)
        out[b] = (at.get(part.passes.number[p]) as number) + b - part.passes.passStart[p];
    return out;
  });
  return {
    shapes: joinShapes(each.map((p) => p.shapes)),
    lattice: each[0].lattice,
    bar: Uint32Array.from(each.flatMap((p, i) => Array.from(p.bar, (b) => bars[i][b]))),
  };
}
