const ISO = /^(\d{4})-(\d\d)-(\d\d)(?:[T ](\d\d):(\d\d)(?::(\d\d)(\.\d+)?)?\s*(Z|[+-]\d\d:?\d\d)?)?$/i;
const SLASHED = /^(\d{1,2})\/(\d{1,2})\/(\d{4})(?:,?\s+(\d{1,2}):(\d\d)(?::(\d\d)(\.\d+)?)?\s*(AM|PM)?)?$/i;
const CLOCK = /^(\d{1,2}):(\d\d)(?::(\d\d)(\.\d+)?)?$/;

/**
 * Milliseconds since 1970 UTC of a date or time as people write it, or NaN. A text without a zone is taken as UTC, so that the
 * same file reads the same everywhere; only differences of times are used. Slashed dates are month first unless the first number
 * cannot be a month.
 */
export function parseTimeMs(text: string): number {
  const t = text.trim();
  const iso = ISO.exec(t);
  if (iso) {
    const [, y, mo, d, h = '0', mi = '0', s = '0', f = '0', zone] = iso;
    let ms = Date.UTC(+y, +mo - 1, +d, +h, +mi, +s) + Math.round(+f * 1000);
    if (zone && zone.toUpperCase() !== 'Z') {
      const sign = zone[0] === '-' ? 1 : -1;
      ms += sign * (+zone.slice(1, 3) * 60 + +zone.slice(-2)) * 60_000;
    }
    return valid(+mo, +d) ? ms : Number.NaN;
  }
  const slash = SLASHED.exec(t);
  if (slash) {
    const [, a, b, y, h = '0', mi = '0', s = '0', f = '0', half] = slash;
    const [mo, d] = +a > 12 ? [+b, +a] : [+a, +b];
    let hour = +h;
    if (half) hour = (hour % 12) + (half.toUpperCase() === 'PM' ? 12 : 0);
    return valid(mo, d) ? Date.UTC(+y, mo - 1, d, hour, +mi, +s) + Math.round(+f * 1000) : Number.NaN;
  }
  const clock = CLOCK.exec(t);
  if (clock) {
    const [, h, mi, s = '0', f = '0'] = clock;
    return ((+h * 60 + +mi) * 60 + +s) * 1000 + Math.round(+f * 1000);
  }
  return Number.NaN;
}

function valid(month: number, day: number): boolean {
  return month >= 1 && month <= 12 && day >= 1 && day <= 31;
}
