import type { DrawnField, DrawnPass } from './spec.ts';

/** What one machine did of a field: the passes that it drove, out of a drawing of the whole field by it alone. */
export interface Share {
  name: string | number;
  /** Drawn with times in milliseconds in the column `time`. */
  drawn: DrawnField;
  drives(pass: DrawnPass): boolean;
  /** When its first own record is logged, ms after the start of the job. */
  startsMs: number;
}

/**
 * One map of a field that several machines worked at the same time, in the order of time, as an office joins the exports of their displays.
 * `machine` names the column that distinguishes them; without it only times and widths do. Each display has only its own coverage.
 */
export function workTogether(shares: readonly Share[], time: string, machine?: string): DrawnField {
  const start = shares[0].drawn.truth.startMs;
  const records = shares.flatMap(({ name, drawn, drives, startsMs }, share) => {
    const own = new Set(drawn.truth.passes.filter(drives).map((p) => p.number));
    const kept = drawn.features.features.flatMap((feature, i) =>
      own.has(drawn.truth.pass[i]) ? [{ feature, i, ms: Number(feature.properties?.[time]) }] : [],
    );
    const shift = start + startsMs - Math.min(...kept.map((k) => k.ms));
    return kept.map(({ feature, i, ms }) => ({
      share,
      i,
      ms: ms + shift,
      pass: drawn.truth.pass[i],
      feature: {
        ...feature,
        properties: {
          ...feature.properties,
          [time]: new Date(ms + shift).toISOString(),
          ...(machine === undefined ? {} : { [machine]: name }),
        },
      },
    }));
  });
  records.sort((a, b) => a.ms - b.ms || a.share - b.share || a.i - b.i);
  // Passes and bars are renumbered in the order in which they begin.
  const passes = new Map<string, number>();
  const bars = new Map<string, number>();
  const first: DrawnPass[] = [];
  const pass: number[] = [];
  const bar: number[] = [];
  for (const r of records) {
    const { truth } = shares[r.share].drawn;
    const key = `${r.share} ${r.pass}`;
    if (!passes.has(key)) {
      passes.set(key, passes.size + 1);
      first.push({ ...(truth.passes.find((p) => p.number === r.pass) as DrawnPass), number: passes.size });
    }
    pass.push(passes.get(key) as number);
    const barKey = `${r.share} ${truth.bar[r.i]}`;
    if (!bars.has(barKey)) bars.set(barKey, bars.size + 1);
    bar.push(bars.get(barKey) as number);
  }
  return {
    features: { type: 'FeatureCollection', features: records.map((r) => r.feature) },
    truth: {
      ...shares[0].drawn.truth,
      pass,
      bar,
      section: records.map((r) => shares[r.share].drawn.truth.section[r.i]),
      interval: records.map((r) => shares[r.share].drawn.truth.interval[r.i]),
      passes: first,
      bars: bars.size,
    },
  };
}
