import { measure } from '../coverage/index.ts';
import type { RecordSet } from '../intake/types.ts';
import { extentOf, planeFor } from '../plane/index.ts';
import { layoutOf } from '../planter/index.ts';
import { type Change, inDegrees, MARK, markOf } from '../redraw/index.ts';
import { UserError } from '../shared/messages.ts';
import type { RebuildInput, Rebuilt } from './types.ts';

/** A map marked as rebuilt is returned unchanged, or refused where another planter, planting or grain is requested. */
export function rebuiltBefore(
  records: RecordSet,
  input: Omit<RebuildInput, 'map'>,
  by: 'section' | 'pass',
): Rebuilt | null {
  const marks = records.columns.find((c) => c.name === MARK);
  if (marks?.kind !== 'text') return null;
  const found = new Set(Array.from(marks.codes, (c) => marks.words[c]));
  // Each mark is that of one planting of one of the planters; one planter has planted one.
  const declared = input.planters ?? [{ planter: input.planter }];
  const named = new Set([input.planting ?? [], Object.values(input.plantings ?? {})].flat());
  const own = declared.flatMap(({ planter }) => {
    const mine = planter.plantings.filter((p) => found.has(markOf(planter, layoutOf(planter, p.name), by)));
    return mine.length === 1 && (named.size === 0 || named.has(mine[0].name))
      ? [{ planter, planting: mine[0].name }]
      : [];
  });
  const known = new Set(own.map((o) => markOf(o.planter, layoutOf(o.planter, o.planting), by)));
  const isKnown = found.size > 0 && [...found].every((mark) => known.has(mark));
  if (!isKnown)
    throw new UserError(
      'rebuilt-before',
      'The map was rebuilt before, with another planter, planting or "--by".',
      { file: records.source },
      'Start from the map as it was recorded.',
    );
  const { shapes, lattice } = records;
  const density = planeFor(lattice, extentOf(shapes)).density;
  const areaM2 = measure(shapes, density).areaM2;
  const totalM2 = areaM2.reduce((a, b) => a + b, 0);
  const n = records.recordNumber.length;
  const changes = Array.from(
    { length: n },
    (_, r): Change => ({
      output: r + 1,
      done: 'kept',
      why: 'rebuilt with this planter before',
      from: String(records.recordNumber[r]),
      pass: null,
      section: null,
      planter: null,
      wasWidthM: null,
      widthM: null,
      inM2: areaM2[r],
      cutM2: 0,
      outM2: areaM2[r],
      differenceM2: 0,
    }),
  );
  return {
    layer: {
      name: 'rebuilt',
      ...inDegrees(shapes, lattice),
      columns: records.columns,
    },
    changes,
    format: records.format,
    system: records.system,
    report: null,
    planters: [...new Set(own.map((o) => o.planter.name))],
    planting: [...new Set(own.map((o) => o.planting))].join(', '),
    plantingFound: named.size === 0 && own.some((o) => o.planter.plantings.length > 1),
    unchanged: true,
    before: true,
    inM2: totalM2,
    outM2: totalM2,
    residualM2: 0,
    leftOverlapM2: 0,
    ratesCorrected: [],
    rateMeans: [],
    notes: records.notes,
  };
}
