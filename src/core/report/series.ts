/** The bars of a map in planting order, gathered into the columns of a time line. For drawing only; nothing is decided here. */
import type { Evidence } from '../answer.ts';

export interface Column {
  pass: number;
  /** Bars in this column. */
  bars: number;
  /** Width from outer edge to outer edge is not kept for each bar: this is the sum of its records' widths, meters, median of the column. */
  widthM: number;
  leastM: number;
  mostM: number;
  /** Part of the bars in which each section slot recorded, 0 to 1. */
  on: Float32Array;
  /** Part of the bars of which records lie in no section slot, 0 to 1. */
  elsewhere: number;
}

export interface Series {
  columns: Column[];
  /** Section slots, counted from the left. */
  slots: number;
}

/** A column never spans two passes; there are about `most` of them, and one for each pass at least. */
export function timeSeries(evidence: Evidence, most = 400): Series {
  const { recordBar, recordSection, recordWidthM, recordPass } = evidence;
  let bars = 0;
  let slots = 0;
  for (let r = 0; r < recordBar.length; r++) {
    if (recordBar[r] >= bars) bars = recordBar[r] + 1;
    if (recordSection[r] >= slots) slots = recordSection[r] + 1;
  }
  const widthM = new Float64Array(bars);
  const passOf = new Uint32Array(bars);
  const on = new Uint8Array(bars * slots);
  const elsewhere = new Uint8Array(bars);
  for (let r = 0; r < recordBar.length; r++) {
    const b = recordBar[r];
    if (b < 0) continue;
    passOf[b] = recordPass[r];
    if (!Number.isNaN(recordWidthM[r])) widthM[b] += recordWidthM[r];
    if (recordSection[r] >= 0) on[b * slots + recordSection[r]] = 1;
    else elsewhere[b] = 1;
  }
  const order = Array.from({ length: bars }, (_, b) => b)
    .filter((b) => passOf[b] > 0)
    .sort((a, b) => passOf[a] - passOf[b] || a - b);
  const each = Math.max(1, Math.ceil(order.length / most));
  const columns: Column[] = [];
  for (let i = 0; i < order.length; ) {
    const pass = passOf[order[i]];
    let end = i;
    while (end < order.length && end - i < each && passOf[order[end]] === pass) end++;
    const here = order.slice(i, end);
    const widths = here.map((b) => widthM[b]).sort((a, b) => a - b);
    const share = new Float32Array(slots);
    for (const b of here) for (let s = 0; s < slots; s++) share[s] += on[b * slots + s] / here.length;
    columns.push({
      pass,
      bars: here.length,
      widthM: widths[widths.length >> 1],
      leastM: widths[0],
      mostM: widths[widths.length - 1],
      on: share,
      elsewhere: here.reduce((n, b) => n + elsewhere[b], 0) / here.length,
    });
    i = end;
  }
  return { columns, slots };
}
