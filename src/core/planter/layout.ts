import { nearest, UserError } from '../shared/messages.ts';
import type { Band, PlantedLayout, Planter, Planting, RowRun } from './types.ts';

/**
 * Place of a frame row across travel, meters from the frame's own center, + to the right. Facing travel, row 1 is leftmost
 * (common practice). The declared side offset moves the whole frame against the tow point, so it is not in here.
 */
export function rowXM(planter: Pick<Planter, 'rows' | 'rowSpacingM'>, row: number): number {
  return (row - (planter.rows + 1) / 2) * planter.rowSpacingM;
}

/** The planting called `name`. Throws `UserError` when the planter has none of that name. */
export function plantingOf(planter: Planter, name: string): Planting {
  const found = planter.plantings.find((p) => p.name === name);
  if (found) return found;
  const names = planter.plantings.map((p) => p.name);
  const near = nearest(name, names);
  throw new UserError(
    'unknown-planting',
    `The planter file has no planting "${name}"; it has ${names.map((n) => `"${n}"`).join(', ')}.`,
    {},
    near ? `Did you mean "${near}"?` : 'Name one of these.',
  );
}

/**
 * Bands of one planting. The band of a planted row runs to the midpoint toward each planted neighbor, the outer ones reach
 * out as far as they reach in; a lone planted row is one row spacing wide. A section's band is the union of its planted rows'
 * bands, so a hole in the planting is shared out between the rows beside it and the bands tile the working width.
 *
 * All lengths are meters from the frame center, + to the right of travel. Throws `UserError` for an unknown planting.
 */
export function layoutOf(planter: Planter, planting: string): PlantedLayout {
  const { rows } = plantingOf(planter, planting);
  const x = rows.map((r) => rowXM(planter, r));
  const k = x.length;
  const rowBands: Band[] = x.map((here, i) => {
    const left = i > 0 ? (here + x[i - 1]) / 2 : here - (k > 1 ? x[1] - here : planter.rowSpacingM) / 2;
    const right = i < k - 1 ? (here + x[i + 1]) / 2 : here + (k > 1 ? here - x[k - 2] : planter.rowSpacingM) / 2;
    return { leftM: left, rightM: right };
  });
  const sectionBands = bandsOfSections(planter.sections, rows, rowBands);
  const leftM = rowBands[0].leftM;
  const rightM = rowBands[k - 1].rightM;
  return {
    planting,
    rows: [...rows],
    rowBands,
    sectionBands,
    workingWidthM: rightM - leftM,
    centerM: (leftM + rightM) / 2,
  };
}

/** Per section the union of the bands of its planted rows, null without one. `rows` and `rowBands` run side by side, left to right. */
export function bandsOfSections(sections: RowRun[], rows: number[], rowBands: Band[]): (Band | null)[] {
  return sections.map(({ first, last }) => {
    const inside = rowBands.filter((_, i) => rows[i] >= first && rows[i] <= last);
    return inside.length === 0 ? null : { leftM: inside[0].leftM, rightM: inside[inside.length - 1].rightM };
  });
}

/** First planted row to last, meters. */
export function rowSpanM(planter: Planter, planting: string): number {
  const { rows } = plantingOf(planter, planting);
  return (rows[rows.length - 1] - rows[0]) * planter.rowSpacingM;
}

/** Gap between neighboring planted rows, meters, when all are alike; null with holes or a lone row. */
export function evenGapM(planter: Planter, planting: Planting): number | null {
  const { rows } = planting;
  if (rows.length < 2) return null;
  const step = rows[1] - rows[0];
  return rows.every((r, i) => i === 0 || r - rows[i - 1] === step) ? step * planter.rowSpacingM : null;
}
