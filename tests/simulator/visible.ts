/** Whether a map can show a fault at all, by what happened on the field: arithmetic on the two displays and counts of what was driven. */
import type { Setting } from '../../src/core/index.ts';
import type { Circumstances } from './circumstances.ts';
import { type Display, type Epoch, layoutDistanceM, withFrame } from './display.ts';
import { asWide, OFFERED_M, resized, type Wrong } from './faults.ts';
import { frameOf, widthOf, type Yard } from './planter.ts';

export interface Told {
  setting: Setting;
  since: string;
  says: string;
  /** `yes`: it must be named. `partly`: the map must not agree, but another name may fit as well. `no`: nothing in the map shows it. */
  shows: 'yes' | 'partly' | 'no';
  why: string;
  /** Other settings that leave the same map. */
  rivals: Setting[];
}

/** What was counted while driving. */
export interface Seen {
  /** Recorded on ground that had been recorded before. */
  doubledM2: number;
  /** Left by a section that dropped out. */
  offM2: number;
  /** Ends of passes at ground that was covered before. */
  ends: number;
  /** Neighboring passes, and those driven against each other. */
  pairs: number;
  opposite: number;
  /** Speeds near the ends. */
  endMs: number[];
  /** How far the outer sections' ends lie apart along travel at a slanted end, meters. */
  slantM: number;
}

interface Situation {
  yard: Yard;
  right: Display;
  epochs: Epoch[];
  circumstances: Circumstances;
  seen: Seen;
}

const median = (list: readonly number[]): number => [...list].sort((a, b) => a - b)[Math.floor(list.length / 2)] ?? 0;

const bySection = (c: Circumstances): boolean =>
  c.grain === 'section' || c.grain === 'strip of a section' || c.grain === 'bar of parts';

/** Smallest difference of edges that an average over a map distinguishes from rounding and steering, meters. */
const tellsM = (c: Circumstances): number => ((c.place.stepDeg ?? 0) >= 1e-6 ? 0.06 : 0.035);

/** Spacings in use, meters; those of whole planters are no closer than the second. Common practice. */
const IN_USE_M: readonly number[] = [...OFFERED_M, 0.9, 1];
const LEAST_SPACING_M = 0.37;

/** Other settings whose display would draw the same layout. */
function layoutRivals(s: Situation, drawn: Display, setting: Setting): Setting[] {
  const { yard, right, circumstances: c } = s;
  // One section looks like the whole width.
  const showsSections = bySection(c) && drawn.bands.length > 1;
  const same = (other: Display): boolean =>
    showsSections
      ? layoutDistanceM(other.bands, drawn.bands) < 0.025
      : Math.abs(widthOf(other.bands) - widthOf(drawn.bands)) < 0.03;
  const frame = frameOf(yard);
  const out = new Set<Setting>();
  for (const p of yard.plantings)
    if (p.name !== yard.planting && same(withFrame(right, { ...frame, planted: p.rows }, 'width')))
      out.add('planted-rows');
  const wide = asWide(yard);
  if (wide && same(withFrame(right, wide, 'width'))) out.add('frame-as-wide');
  // While every other row plants, sections joined on the display are those of a frame of the wide rows, cut so.
  if (wide && setting === 'sections-merged' && yard.planting === 'wide') out.add('frame-as-wide');
  for (let rows = 4; rows <= 48; rows++)
    if (rows !== frame.rows && same(withFrame(right, resized(frame, rows), 'width'))) out.add('frame-rows');
  for (const spacingM of IN_USE_M) if (same(withFrame(right, { ...frame, spacingM }, 'width'))) out.add('row-spacing');
  // Records of the whole width show no row: another planter's setup draws the same where rows times spacing come to the same.
  const wholeM = widthOf(drawn.bands);
  const fits = (spacingM: number): boolean => Math.abs(Math.round(wholeM / spacingM) * spacingM - wholeM) < 0.01;
  if (!showsSections && IN_USE_M.some((s) => s >= LEAST_SPACING_M && fits(s))) out.add('frame-rows');
  out.delete(setting);
  return [...out];
}

type Verdict = Pick<Told, 'shows' | 'why' | 'rivals'>;
const yes = (why: string, rivals: Setting[] = []): Verdict => ({ shows: 'yes', why, rivals });
const partly = (why: string, rivals: Setting[] = []): Verdict => ({ shows: 'partly', why, rivals });
const no = (why: string, rivals: Setting[] = []): Verdict => ({ shows: 'no', why, rivals });

function layout(s: Situation, drawn: Display, setting: Setting): Verdict {
  const { right, circumstances: c } = s;
  const wide = Math.abs(widthOf(drawn.bands) - widthOf(right.bands));
  const apart = layoutDistanceM(drawn.bands, right.bands);
  const rivals = layoutRivals(s, drawn, setting);
  if (wide > tellsM(c)) return yes(`drawn ${(wide * 100).toFixed(0)} cm off in width`, rivals);
  if (apart <= tellsM(c)) return no('the wrong layout draws the same bands', rivals);
  if (!bySection(c)) return no('right width, and sections are not in the records', rivals);
  // A section column that holds one number throughout is no evidence.
  if (drawn.bands.length === 1) return no('one section looks like bars', rivals);
  return yes('section edges lie elsewhere', rivals);
}

/** One end is known to this, meters: receiver, edge of covered ground, hydraulics. */
const END_SD_M = 0.35;
/** Twice what a distance measured with a tape is off by, meters. */
const TAPE_M = 0.2;
/** Who switches by hand is always late or early by about this much, meters. */
const HABIT_M = 0.8;

/** Meters at the ends: late is +. */
function ends(s: Situation, lateM: number, rivals: Setting[]): Verdict {
  const { circumstances: c, seen } = s;
  const speed = median(seen.endMs);
  const interval = c.logger.by === 'distance' ? c.logger.every : c.logger.every * speed;
  // A strip does not show how it was logged: whoever reads it allows for a usual interval (up to 3 m, common practice) or its own.
  const strip = c.grain.startsWith('strip');
  const logged = strip ? Math.max(interval, 3) : c.logger.state.startsWith('cut') ? 0.3 : interval;
  // A record of the whole width says no more than that some section was on: along a slanted edge that is any part of the slant.
  const blur = logged + (bySection(c) ? 0 : seen.slantM / 2);
  // Three standard errors of the mean of all ends, each known to its log interval and to the receiver, and twice what a tape is off by; a hand has a habit besides (common practice).
  const margin =
    (3 * Math.hypot(blur / Math.sqrt(12), END_SD_M)) / Math.sqrt(seen.ends) + TAPE_M + (c.control ? 0 : 2 * HABIT_M);
  if (seen.ends < 8) return no(`${seen.ends} ends at covered ground`, rivals);
  // One record to a pass does not say at which of its ends it began, unless a heading does: late at the one end is early at the other, as a display that looks ahead is.
  const told = !strip || c.columns.names.heading !== undefined;
  if (!told && lateM > 0 && lateM <= speed * 1.0 + blur + margin)
    return no(
      `${lateM.toFixed(1)} m late or early, which is within look-ahead, and nothing tells the direction`,
      rivals,
    );
  if (lateM > blur + margin)
    return yes(`${lateM.toFixed(1)} m late at ${seen.ends} ends, known to ${blur.toFixed(1)} m`, rivals);
  if (lateM < -(speed * 1.0 + blur + margin))
    return yes(`${(-lateM).toFixed(1)} m early, more than a second of travel`, rivals);
  return no(`${lateM.toFixed(1)} m at the ends is within look-ahead and log interval (${blur.toFixed(1)} m)`, rivals);
}

function midway(s: Situation): Verdict {
  const { epochs, circumstances: c } = s;
  const [before, after] = [epochs[0].display, epochs[1].display];
  const wide = Math.abs(widthOf(after.bands) - widthOf(before.bands));
  const apart = layoutDistanceM(after.bands, before.bands);
  const base: Setting[] = [
    'planted-rows',
    'frame-rows',
    'row-spacing',
    'frame-as-wide',
    'section-rows',
    'sections-merged',
  ];
  if (after.asideM !== before.asideM) {
    const inPass = epochs[1].share > 0;
    // Of strips without headings nothing says which way they were driven, and so whether the seams follow the direction, as those of an offset do.
    if (inPass && c.grain.startsWith('strip') && c.columns.names.heading === undefined)
      return partly('a step aside in mid-pass, and nothing tells the direction', ['side-offset']);
    return inPass
      ? yes('a step aside in mid-pass', ['side-offset'])
      : partly('a step aside between passes is a wide seam or alternating ones', ['side-offset', 'pass-spacing']);
  }
  if (wide > tellsM(c)) return yes(`width changes by ${(wide * 100).toFixed(0)} cm`, [...base, 'pass-spacing']);
  if (apart <= tellsM(c)) return no('the same bands before and after', base);
  return bySection(c) ? yes('section edges move', base) : no('sections are not in the records', base);
}

function judge(f: { setting: Setting; wrong: Wrong }, s: Situation): Verdict {
  const { right, epochs, circumstances: c, seen } = s;
  const drawn = epochs[epochs.length > 1 ? 1 : 0].display;
  const parts = bySection(c);
  switch (f.setting) {
    case 'section-idle':
      return parts
        ? yes('strips without a record on every pass', ['declared-layout'])
        : partly('strips without a record', ['declared-layout', 'section-stuck-off']);
    case 'section-across-drives': {
      const rivals: Setting[] = ['declared-layout', 'section-rows', 'section-stuck-off', 'frame-rows'];
      return parts
        ? yes('the band is missing or cut', rivals)
        : partly('a strip without a record, or a narrower width', [...rivals, 'row-spacing']);
    }
    case 'section-order':
      if (!parts) return no('sections are not in the records');
      return seen.slantM > 3 && c.control && right.bands.length >= 3
        ? yes(`outer sections end ${seen.slantM.toFixed(1)} m apart`)
        : no('ends are nearly square');
    case 'pass-spacing':
      return seen.pairs >= 4 ? yes(`${seen.pairs} seams`) : no('few seams');
    case 'declared-layout':
      return seen.pairs >= 4
        ? yes(`${seen.pairs} seams at the declared spacing`, ['pass-spacing'])
        : no('few seams', ['pass-spacing']);
    case 'side-offset':
      return seen.opposite >= 4
        ? yes(`${seen.opposite} pairs driven against each other`)
        : no('neighbors run the same way');
    case 'inline-offset':
      return ends(s, drawn.forwardM - drawn.lookAheadS * median(seen.endMs), ['switch-delay']);
    case 'switch-delay':
      return ends(s, (drawn.delayS - drawn.lookAheadS) * median(seen.endMs), ['inline-offset']);
    case 'section-control-off':
      if (!right.control) return no('the frame is lifted by hand: nothing changes');
      return seen.doubledM2 > 60 ? yes(`${seen.doubledM2.toFixed(0)} m² twice`) : no('little ground twice');
    case 'section-stuck-on':
      // Where a record holds the whole width, one section that stays on draws it as if all did.
      if (!parts) return no('sections are not in the records', ['section-control-off']);
      return seen.doubledM2 > 12 && seen.ends >= 8
        ? yes(`${seen.doubledM2.toFixed(0)} m² twice`)
        : no('little ground twice');
    case 'section-stuck-off':
      if (seen.offM2 < 30) return no('nothing to plant where it was off');
      return parts
        ? yes(`${seen.offM2.toFixed(0)} m² left`, ['changed-midway', 'frame-rows'])
        : partly(`${seen.offM2.toFixed(0)} m² left`, [
            'changed-midway',
            'frame-rows',
            'row-spacing',
            'pass-spacing',
            'section-idle',
            'section-across-drives',
          ]);
    case 'map-repeated':
      return yes('records twice');
    case 'map-units':
      return yes('by the ratio of foot and meter', f.wrong.file?.scale ? ['row-spacing', 'frame-rows'] : []);
    case 'changed-midway':
      return midway(s);
    default:
      return layout(s, drawn, f.setting);
  }
}

export function tell(f: { setting: Setting; since: string; wrong: Wrong }, s: Situation): Told {
  const verdict = judge(f, s);
  const several = s.circumstances.kind === 'two machines';
  return {
    setting: f.setting,
    since: f.since,
    says: f.wrong.says,
    ...verdict,
    rivals: several ? [...verdict.rivals, 'changed-midway'] : verdict.rivals,
  };
}
