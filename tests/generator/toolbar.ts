import type { Belief, Strip, Toolbar } from './spec.ts';

/** Place of each row unit, meters from the middle of the frame, + right: laid out one after another, then centered. */
export function rowPoints(bar: Toolbar): number[] {
  const points = [0];
  while (points.length < bar.rows) points.push(points[points.length - 1] + bar.rowSpacingM);
  const middle = (points[0] + points[points.length - 1]) / 2;
  return points.map((p) => p - middle);
}

/** Half-way lines between neighboring points, with the outermost ones mirrored about the end points. */
function halfwayLines(points: number[], loneGap: number): number[] {
  const inner = points.slice(1).map((p, i) => (p + points[i]) / 2);
  if (inner.length === 0) return [points[0] - loneGap / 2, points[0] + loneGap / 2];
  return [2 * points[0] - inner[0], ...inner, 2 * points[points.length - 1] - inner[inner.length - 1]];
}

/** Left and right edge of the ground that the running rows take. */
export function plantedReach(bar: Toolbar): [number, number] {
  const at = rowPoints(bar);
  const lines = halfwayLines(
    bar.planted.map((r) => at[r - 1]),
    bar.rowSpacingM,
  );
  return [lines[0], lines[lines.length - 1]];
}

/** The strips that a display draws for `belief`, left to right. */
export function drawnStrips(belief: Belief): Strip[] {
  const at = rowPoints(belief);
  const units = halfwayLines(at, belief.rowSpacingM);
  const running = halfwayLines(
    belief.planted.map((r) => at[r - 1]),
    belief.rowSpacingM,
  );
  const out: Strip[] = [];
  belief.sections.forEach(([first, last], i) => {
    const inside = belief.planted.flatMap((r, k) => (r >= first && r <= last ? [k] : []));
    if (inside.length === 0) return;
    const physical = belief.sectionsBy === 'physical';
    let leftM = physical ? units[first - 1] : running[inside[0]];
    let rightM = physical ? units[last] : running[inside[inside.length - 1] + 1];
    const line = (belief.drives ?? []).find((d) => d[1] >= first && d[1] < last)?.[1];
    const how = belief.acrossDrives ?? 'fine';
    if (line !== undefined && how !== 'fine') {
      if (how === 'missing') return;
      const lastLeft = inside.filter((k) => belief.planted[k] <= line).pop();
      const both = lastLeft !== undefined && belief.planted[inside[inside.length - 1]] > line;
      const cut = both && !physical ? running[lastLeft + 1] : units[line];
      if (how === 'left-only') rightM = Math.min(rightM, cut);
      else leftM = Math.max(leftM, cut);
      if (rightM - leftM < 1e-6) return;
    }
    out.push({ section: i + 1, leftM, rightM });
  });
  return out;
}
