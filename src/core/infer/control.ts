import { median } from '../geometry/stats.ts';
import { runText } from '../planter/index.ts';
import { distanceText, gapText as gap, lengthText as length } from '../planter/units.ts';
import { type Facts, type Findings, NO_EFFECT, observe } from './facts.ts';
import type { Ends } from './late.ts';
import { percent, plural } from './words.ts';

/** Starts and stops that both reach less than this onto covered ground overlap on purpose; metres. */
const LEAST_THROUGH_M = 1.5;
/** A section that is wholly on covered ground for less than this over the whole map does not stay on, metres. */
const LEAST_DOUBLED_M = 15;

/** Recording on over covered ground, all sections or one, and one section that drops out. True when one of these explains the ends. */
export function diagnoseControl(f: Facts, out: Findings, l: Ends | null): boolean {
  const u = f.planter.unit;
  let found = false;
  f.bands.segments.forEach((e, i) => {
    const slots = f.runs[i] ?? [];
    if (slots.length === 0) return;
    const over = slots.map((s) => (s.visits >= 3 ? s.doubledRuns / s.visits : 0));
    // Where sections did shut off they met covered ground too: those places count against.
    const met = slots.map((s, k) => s.doubledRuns / Math.max(1, s.visits, f.ends.filter((x) => x.slot === k).length));
    const on = met.filter((v, k) => v > 0.5 && slots[k].visits >= 3).length;
    const name = (k: number): string => sectionName(f, k, e.bands.length);
    const meters = (k: number): number => slots[k].doubledM;
    // Starts and stops that both reach well over covered ground are no offset: that would cost one what it gives the other.
    const through = l !== null && l.leastM > 0.6 * l.barM && l.bothM - l.half95M > Math.max(LEAST_THROUGH_M, l.barM);
    if (through || (on > 0 && on >= 0.8 * slots.length)) {
      const m2 = slots.reduce((a, s, k) => a + s.doubledM * (e.bands[k].rightM - e.bands[k].leftM), 0);
      const passes = [...new Set(slots.flatMap((s) => s.doubledPasses))].sort((a, b) => a - b);
      const id = observe(out, {
        kind: 'double-coverage',
        says: through
          ? `Starts and stops both reach ${length(l.bothM, u)} over covered ground (${plural(l.starts, 'start')}, ${plural(l.stops, 'stop')}).`
          : `All sections went on recording over covered ground in ${percent(median(met))} of the places where they met it.`,
        measuredM: null,
        expectedM: null,
        n: slots.reduce((a, s) => a + s.doubledRuns, 0),
        share: through ? 1 : median(met),
        passes,
      });
      out.diagnoses.push({
        setting: 'section-control-off',
        confidence: through ? 0.95 : Math.min(0.97, median(met)),
        says: `No section shuts off over covered ground: section control was off, or the headland was not known to it.`,
        check:
          'Look whether automatic section control is on and whether it knows the headland; then drive one pass into covered ground and watch the sections shut off.',
        because: [id],
        effect: { acreCountPct: f.coveredM2 > 0 ? (100 * m2) / f.coveredM2 : null, unplantedM2: null, doubledM2: m2 },
      });
      found = true;
    } else {
      // Where everything stops late, the outer sections reach over covered ground now and then.
      const fewest = l !== null && Math.abs(l.lateM) > l.limitM ? 8 : 3;
      over.forEach((v, k) => {
        // An outer section lies along covered ground wherever a pass does: only its ends tell.
        const outer = k === 0 || k === over.length - 1;
        const rest = median(slots.filter((_, n) => n !== k).map((o) => o.doubledM));
        const runs =
          !outer &&
          slots[k].doubledRuns >= fewest &&
          slots[k].doubledPasses.length >= 2 &&
          meters(k) >= LEAST_DOUBLED_M &&
          rest <= 0.2 * meters(k);
        if (!runs && (fewest > 3 || !overruns(f, k))) return;
        const id = observe(out, {
          kind: 'double-coverage',
          says: `${name(k)} recorded over covered ground in ${slots[k].doubledRuns} of ${plural(slots[k].visits, 'place')}, ${distanceText(meters(k), u)} in all.`,
          measuredM: null,
          expectedM: null,
          n: slots[k].doubledRuns,
          share: v,
          passes: slots[k].doubledPasses,
        });
        out.diagnoses.push({
          setting: 'section-stuck-on',
          confidence: Math.min(
            0.97,
            1 - 0.5 ** Math.max(slots[k].doubledRuns, f.ends.filter((x) => x.slot === k).length / 2),
          ),
          says: `${name(k)} does not shut off over covered ground while the others do.`,
          check: `Look at that section's switch, valve, clutch or motor and at its override on the display; then drive into covered ground and watch whether it shuts off with its neighbours.`,
          because: [id],
          effect: { ...NO_EFFECT, doubledM2: meters(k) * (e.bands[k].rightM - e.bands[k].leftM) },
        });
      });
    }
    slots.forEach((s, k) => {
      if (s.longestDropM < 15 || s.droppedM < 0.02 * (s.recordedM + s.droppedM)) return;
      const width = e.bands[k].rightM - e.bands[k].leftM;
      const id = observe(out, {
        kind: 'section-dropout',
        says: `${name(k)} is off between two sections that are on over ${distanceText(s.droppedM, u)} (${plural(s.droppedRuns, 'stretch', 'stretches')}, the longest ${distanceText(s.longestDropM, u)}).`,
        measuredM: s.droppedM,
        expectedM: 0,
        n: s.droppedRuns,
        share: s.droppedM / (s.recordedM + s.droppedM),
        passes: s.droppedPasses,
      });
      out.diagnoses.push({
        setting: 'section-stuck-off',
        confidence: 0.95,
        says: `${name(k)} drops out over long runs of open ground; its strip, ${gap(width, u)} wide, stays empty there.`,
        check: `Look at that section's wiring, switch, clutch or motor, and at its override on the display. Dig behind its rows: if seed lies there, only the map is wrong.`,
        because: [id],
        effect: { ...NO_EFFECT, unplantedM2: s.droppedM * width },
      });
    });
  });
  return found;
}
/** Fewest ends at which a section is held against the others of the same bar, and the part of them that must reach further. */
const FEWEST_PAIRED = 6;
const PAIRED_SHARE = 0.8;

/** True when one section reaches further over covered ground than the others at the same end of a pass, by a log interval and nearly always. */
function overruns(f: Facts, slot: number): boolean {
  if (f.bands.segments.length !== 1) return false;
  const rest = new Map<string, number[]>();
  for (const e of f.ends) {
    if (e.slot === slot) continue;
    const key = `${e.pass} ${e.kind}`;
    rest.set(key, [...(rest.get(key) ?? []), e.overlapM]);
  }
  const further = { start: [] as number[], stop: [] as number[] };
  const seen = new Set<string>();
  for (const e of f.ends) {
    const key = `${e.pass} ${e.kind}`;
    const others = rest.get(key);
    if (e.slot !== slot || !others || others.length < 2 || seen.has(key)) continue;
    seen.add(key);
    further[e.kind].push((e.overlapM - median(others)) / e.barM);
  }
  const all = [...further.start, ...further.stop];
  return (
    all.length >= FEWEST_PAIRED &&
    Math.min(further.start.length, further.stop.length) >= 2 &&
    median(all) > 1 &&
    all.filter((d) => d > 0.5).length >= PAIRED_SHARE * all.length
  );
}

/** "Section 3 (rows 5-6)" when the recorded sections are as many as the declared ones, else "The 3rd recorded section from the left". */
function sectionName(f: Facts, k: number, count: number): string {
  const planting = f.layout.sectionBands.flatMap((b, i) => (b ? [i] : []));
  if (planting.length !== count) return `Recorded section ${k + 1} from the left`;
  const s = f.planter.sections[planting[k]];
  return `Section ${planting[k] + 1} (${runText(s)})`;
}
