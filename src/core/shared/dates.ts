const MONTHS = 'January February March April May June July August September October November December'.split(' ');

/** "May 3, 2026": the day in UTC, as times in maps are read. */
export function dayText(ms: number): string {
  const d = new Date(ms);
  return `${MONTHS[d.getUTCMonth()]} ${d.getUTCDate()}, ${d.getUTCFullYear()}`;
}

/** "May 3, 2026, 14:05": day and minute by the map's own clock. */
export function clockText(ms: number): string {
  return `${dayText(ms)}, ${new Date(ms).toISOString().slice(11, 16)}`;
}

/** "April 20, 2026", "April 20-22, 2026" or "April 20 to May 3, 2026". */
export function daysText(firstMs: number, lastMs: number): string {
  const [a, b] = [new Date(firstMs), new Date(lastMs)];
  const [from, to] = [dayText(firstMs), dayText(lastMs)];
  if (from === to) return from;
  if (a.getUTCFullYear() !== b.getUTCFullYear()) return `${from} to ${to}`;
  const start = `${MONTHS[a.getUTCMonth()]} ${a.getUTCDate()}`;
  return a.getUTCMonth() === b.getUTCMonth()
    ? `${start}-${b.getUTCDate()}, ${b.getUTCFullYear()}`
    : `${start} to ${to}`;
}

/** "May 3", or "Sep 12": for an axis. */
export function shortDay(ms: number): string {
  const d = new Date(ms);
  return `${MONTHS[d.getUTCMonth()].slice(0, 3)} ${d.getUTCDate()}`;
}
