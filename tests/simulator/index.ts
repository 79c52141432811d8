/**
 * Maps as they come about on fields: a planter in the yard, a display that is set right or wrong, a day's driving, a file. Written from
 * how displays record and how planters are driven; it does not depend on how a map is read. The same seed gives the same map.
 *
 * 1. `circumstances.ts`: the day. 2. `faults.ts`: what the display is set to. 3. `drive.ts`: the lines. 4. `work.ts`: the planter on them,
 * its sections, its log. 5. `shapes.ts`, `file.ts`: polygons, columns, degrees. 6. `visible.ts`: whether the map can show the fault.
 */
import type { Setting } from '../../src/core/index.ts';
import { type Circumstances, drawCircumstances, KINDS, type Kind } from './circumstances.ts';
import { type Display, type Epoch, layoutDistanceM, rightDisplay } from './display.ts';
import { plan } from './drive.ts';
import { layoutFault, otherFault, stepAside, type Wrong } from './faults.ts';
import { type Convex, drawField, type Field, type Line } from './field.ts';
import { collection, type Feature, featureOf, propertiesOf } from './file.ts';
import { Ground } from './ground.ts';
import { drawYard, planterFile, widthOf, type Yard } from './planter.ts';
import { Random } from './random.ts';
import { drawShapes } from './shapes.ts';
import { type Seen, type Told, tell } from './visible.ts';
import { type Log, logging, motion, switching } from './work.ts';

export { KINDS, type Kind, type Told };

export type Since = 'the whole field' | 'from a pass on' | 'from mid-pass on' | 'for some passes';

export interface Simulated {
  seed: number;
  kind: Kind;
  /** The day in a few words, for a reader. */
  story: string;
  faults: Told[];
  /** No map that comes about so is right for the planter as declared, whatever the display was set to. */
  neverAgrees: string | null;
  /** What may be named without being a fault of a setting: somebody who switches by hand has section control off. */
  mayName: Setting[];
  map: string;
  planter: string;
  planting: string;
  boundary: string | null;
  records: number;
  truth: {
    /** Width that the planter covers, and widths that were drawn, meters. */
    widthM: number;
    drawnM: number[];
    /** Seam as drawn between passes that were steered side by side, meters, + a gap; null where steps change. */
    seamM: number | null;
  };
  circumstances: Circumstances;
}

const LAYOUT: readonly Setting[] = [
  'planted-rows',
  'frame-rows',
  'row-spacing',
  'frame-as-wide',
  'section-rows',
  'sections-merged',
];
const MIDWAY: readonly Setting[] = ['planted-rows', 'frame-rows', 'frame-rows', 'row-spacing', 'section-rows'];
const GROUPS: readonly (readonly Setting[])[] = [
  ['planted-rows', 'frame-rows', 'row-spacing', 'frame-as-wide', 'section-rows', 'sections-merged'],
  ['pass-spacing', 'side-offset'],
  ['inline-offset', 'switch-delay'],
  ['section-stuck-on', 'section-stuck-off', 'section-order', 'section-control-off'],
  ['map-repeated'],
];
export const SETTINGS: readonly Setting[] = [
  ...LAYOUT,
  'section-idle',
  'section-across-drives',
  'section-order',
  'pass-spacing',
  'side-offset',
  'inline-offset',
  'switch-delay',
  'section-control-off',
  'section-stuck-on',
  'section-stuck-off',
  'changed-midway',
  'map-repeated',
  'map-units',
  'declared-layout',
];
const OTHER_DAY: Setting[] = ['planted-rows', 'changed-midway', 'pass-spacing', 'section-rows', 'frame-as-wide'];
/** Kinds that draw several origins have a fault only in the layout of the last one. */
const SEVERAL: readonly Kind[] = ['two machines', 'replant', 'two fields'];
const MOST_RECORDS = 6000;

/** One piece of work: a machine on a field, from a time on. */
interface Part {
  field: Field;
  offset: [number, number];
  epochs: Epoch[];
  startMs: number;
  machine: number;
}

interface Wish {
  kind?: Kind;
  settings?: readonly Setting[];
}

export function drawSettings(random: Random, count: number): Setting[] {
  if (count === 0) return [];
  if (count === 1) return [random.pick(SETTINGS)];
  const a = random.int(0, GROUPS.length - 2);
  const b = random.int(a + 1, GROUPS.length - 1);
  const pair = [random.pick(GROUPS[a]), random.pick(GROUPS[b])];
  // Without section control nothing switches at the ends, where the other fault would show.
  return pair.includes('section-control-off') && a === 2 ? [pair[0], 'section-stuck-on'] : pair;
}

interface Fault {
  setting: Setting;
  since: Since;
  wrong: Wrong;
}

function drawFault(random: Random, setting: Setting, yard: Yard, right: Display): Fault | null {
  const steered = random.chance(0.6) ? 'width' : 'as before';
  if (setting === 'changed-midway') {
    const since: Since = random.pick(['from a pass on', 'from mid-pass on', 'for some passes'] as const);
    const wrong = random.chance(0.2) ? stepAside(random) : layoutFault(random, random.pick(MIDWAY), yard, steered);
    return wrong && { setting, since, wrong };
  }
  const wrong = LAYOUT.includes(setting)
    ? layoutFault(random, setting, yard, random.chance(0.8) ? 'width' : 'as before')
    : otherFault(random, setting, yard, right);
  const since: Since =
    setting === 'section-stuck-off'
      ? random.pick(['from a pass on', 'for some passes', 'the whole field'] as const)
      : 'the whole field';
  return wrong && { setting, since, wrong };
}

function epochsOf(random: Random, right: Display, faults: readonly Fault[], passes: number): Epoch[] {
  const always = faults.filter((f) => f.since === 'the whole field').reduce((d, f) => f.wrong.make(d), right);
  const later = faults.find((f) => f.since !== 'the whole field');
  if (!later) return [{ pass: 0, share: 0, display: always }];
  const then = later.wrong.make(always);
  const at = random.int(Math.ceil(passes * 0.3), Math.floor(passes * 0.65));
  const epochs: Epoch[] = [
    { pass: 0, share: 0, display: always },
    { pass: at, share: later.since === 'from mid-pass on' ? random.between(0.3, 0.7) : 0, display: then },
  ];
  if (later.since === 'for some passes') epochs.push({ pass: at + random.int(2, 3), share: 0, display: always });
  return epochs;
}

const displayAt = (epochs: readonly Epoch[], pass: number, share: number): Display =>
  epochs.reduce((d, e) => (e.pass < pass || (e.pass === pass && e.share <= share) ? e.display : d), epochs[0].display);

interface Worked {
  logs: Log[];
  seen: Seen;
  lines: Line[];
}

function workOn(random: Random, part: Part, c: Circumstances, firstPass: number, believedControl: boolean): Worked {
  const { field, epochs } = part;
  const first = displayAt(epochs, 0, 0);
  const lines = plan(random.fork(), field, {
    driving: c.driving,
    headlands: c.headlands,
    laps: c.laps,
    stepM: (pass) => displayAt(epochs, pass, 0).stepM,
    widthM: widthOf(first.bands),
    control: believedControl,
    lateLift: c.lateLift,
  });
  const xs = lines.flatMap((l) => l.x);
  const ys = lines.flatMap((l) => l.y);
  const margin = 30;
  const ground = new Ground(
    Math.min(...xs) - margin,
    Math.min(...ys) - margin,
    Math.max(...xs) + margin,
    Math.max(...ys) + margin,
  );
  const logs: Log[] = [];
  const seen: Seen = { doubledM2: 0, offM2: 0, ends: 0, opposite: 0, endMs: [], slantM: 0, pairs: 0 };
  let clock = random.between(0, 1);
  let before: Line | null = null;
  let travelledM = 10;
  let across = 0;
  lines.forEach((line, k) => {
    const number = line.kind === 'pass' ? across++ : across === 0 ? -1 : Number.MAX_SAFE_INTEGER;
    const m = motion(random.fork(), line, c.steering, clock);
    const lapAfter = c.headlands === 'last' && line.kind === 'pass';
    const region: Convex | null = c.driving === 'contours' ? null : lapAfter ? field.inner : field.edge;
    const states = switching(random.fork(), m, (share) => displayAt(epochs, number, share), {
      ground,
      region,
      waterway: field.waterway,
      travelledM,
    });
    travelledM += line.s[line.s.length - 1] + 100;
    logs.push(...logging(random.fork(), firstPass + k, m.steps, states, c.logger, logs.length));
    seen.doubledM2 += states.doubledM2;
    seen.offM2 += states.offM2;
    if (line.kind === 'pass') {
      if (c.headlands === 'first') seen.ends += 2;
      seen.endMs.push(
        ...m.steps
          .filter((p) => Math.abs(p.s - line.downM - 4) < 0.3 || Math.abs(p.s - line.upM + 4) < 0.3)
          .map((p) => p.v),
      );
      const forward = line.x[line.x.length - 1] > line.x[0];
      if (before?.kind === 'pass') {
        seen.pairs++;
        if (before.x[before.x.length - 1] > before.x[0] !== forward) seen.opposite++;
      }
    }
    before = line;
    clock = m.steps[m.steps.length - 1].t + random.between(10, 25);
  });
  for (const step of new Set(logs.flatMap((l) => [l.from, l.to]))) {
    step.x += part.offset[0];
    step.y += part.offset[1];
  }
  return { logs, seen, lines };
}

/** A field on which a display's passes fit, or nearly. */
function fieldFor(
  random: Random,
  c: Circumstances,
  epochs: readonly Epoch[],
  passes: number,
  headlands: boolean,
): Field {
  const step = (k: number): number => displayAt(epochs, k, 0).stepM;
  const laps = headlands ? c.laps : 0;
  let widthM = 0;
  for (let k = 0; k < passes; k++) widthM += step(k);
  if (!c.fits) widthM -= random.between(0.15, 0.85) * step(0);
  const headlandM = laps * step(0);
  const least = c.driving === 'round and round' ? 2.5 * widthM * 0.4 : 0;
  return drawField(random, {
    lengthM: Math.max(c.lengthM, least) + 2 * headlandM,
    widthM: widthM + 2 * headlandM,
    headlandM,
    slanted: c.slanted,
    waterway: c.waterway,
  });
}

function partsOf(random: Random, c: Circumstances, epochs: Epoch[], right: Display, other: Display | null): Part[] {
  const startMs = Date.UTC(2025, 3, random.int(8, 28), random.int(6, 16), random.int(0, 59));
  const field = fieldFor(random, c, epochs, c.passes, c.headlands !== 'none');
  const hour = 3600e3;
  const first = { field, offset: [0, 0] as [number, number], epochs, startMs, machine: 1 };
  const always = (display: Display): Epoch[] => [{ pass: 0, share: 0, display }];
  const few = Math.max(4, Math.round(c.passes * 0.6));
  switch (c.kind) {
    case 'two machines': {
      const own = fieldFor(random, { ...c, fits: true }, always(right), few, false);
      const beside = fieldFor(random, { ...c, fits: true }, epochs, few, false);
      return [
        { ...first, field: own, epochs: always(right) },
        {
          ...first,
          field: beside,
          offset: [0, own.widthM],
          machine: 2,
          startMs: startMs + random.between(1, 300) * 1000,
        },
      ];
    }
    case 'two plantings': {
      const own = fieldFor(random, { ...c, fits: true }, epochs, few, false);
      const beside = fieldFor(random, { ...c, fits: true }, always(other!), few, false);
      return [
        { ...first, field: own },
        {
          ...first,
          field: beside,
          epochs: always(other!),
          offset: [0, own.widthM],
          startMs: startMs + random.int(1, 3) * 24 * hour,
        },
      ];
    }
    case 'replant': {
      const patch = fieldFor(
        random,
        { ...c, headlands: 'none', slanted: false, lengthM: random.between(35, 60) },
        epochs,
        random.int(3, 4),
        false,
      );
      const at: [number, number] = [random.between(10, 40), random.between(0.1, 0.4) * field.widthM];
      return [
        first,
        {
          ...first,
          field: { ...patch, waterway: null },
          offset: at,
          startMs: startMs + random.int(12, 18) * 24 * hour,
        },
      ];
    }
    case 'two fields':
      return [
        first,
        {
          ...first,
          field: fieldFor(random, c, epochs, few, c.headlands !== 'none'),
          offset: [random.between(400, 900), random.between(-300, 300)],
          startMs: startMs + 3 * hour,
        },
      ];
    default:
      return [first];
  }
}

function draw(seed: number, wish: Wish): Simulated | null {
  const random = new Random(seed);
  const kind = wish.kind ?? random.pick(KINDS);
  let settings =
    wish.settings ??
    drawSettings(
      random,
      random.weighted([
        [0, 4],
        [1, 5],
        [2, 1],
      ]),
    );
  if (SEVERAL.includes(kind)) settings = settings.slice(0, 1).map((s) => (LAYOUT.includes(s) ? s : 'frame-rows'));
  if (kind === 'two plantings') settings = [];
  const whole = !settings.includes('changed-midway') && !settings.includes('section-stuck-off');
  let yard = drawYard(random, { sections: 16, widthM: 18.5 });
  if (kind === 'two plantings' && yard.plantings.length < 2) return null;
  const c = drawCircumstances(random.fork(), kind, yard.sections.length, settings, whole);
  let right = rightDisplay(yard, c.control, c.lookAheadS, c.onFrom);
  const faults = settings.map((s) => drawFault(random, s, yard, right));
  if (faults.some((f) => f === null)) return null;
  const there = faults as Fault[];
  yard = there.find((f) => f.wrong.yard)?.wrong.yard ?? yard;
  const declared = there.find((f) => f.wrong.declaredPassSpacingM !== undefined)?.wrong.declaredPassSpacingM;
  right = rightDisplay(yard, c.control, c.lookAheadS, c.onFrom);
  const other = yard.plantings.find((p) => p.name !== yard.planting);
  const otherDisplay = other
    ? rightDisplay({ ...yard, planting: other.name }, c.control, c.lookAheadS, c.onFrom)
    : null;
  const epochs = epochsOf(random, right, there, c.passes);
  const per = epochs[0].display.bands.length * (c.grain === 'section' ? 1 : 0.15);
  const spacing = c.logger.by === 'distance' ? c.logger.every : c.logger.every * c.steering.cruiseMs * 0.8;
  c.lengthM = Math.max(
    60,
    Math.min(c.lengthM, (5000 * spacing) / (per * (c.passes + (c.headlands === 'none' ? 0 : 3)))),
  );
  const parts = partsOf(random.fork(), c, epochs, right, otherDisplay);
  const worked: Worked[] = [];
  let passes = 0;
  for (const part of parts) {
    const w = workOn(random.fork(), part, c, passes, c.control);
    passes += w.lines.length;
    worked.push(w);
  }
  return finish(random, {
    seed,
    kind,
    c,
    yard,
    right,
    other: otherDisplay,
    epochs,
    faults: there,
    parts,
    worked,
    declared,
  });
}

/** Whether two displays draw bands that a map of this grain distinguishes. Both plantings of an even frame are as wide, and have the same sections. */
function tellsApart(c: Circumstances, a: Display, b: Display | null): boolean {
  if (b === null) return false;
  const whole = c.grain === 'bar' || c.grain === 'strip';
  return (whole ? Math.abs(widthOf(a.bands) - widthOf(b.bands)) : layoutDistanceM(a.bands, b.bands)) > 0.03;
}

interface Drawn {
  seed: number;
  kind: Kind;
  c: Circumstances;
  yard: Yard;
  right: Display;
  /** Of the other planting, where there is one. */
  other: Display | null;
  epochs: Epoch[];
  faults: Fault[];
  parts: Part[];
  worked: Worked[];
  declared: number | undefined;
}

function finish(random: Random, d: Drawn): Simulated | null {
  const { c, yard, right, epochs, faults, parts, worked } = d;
  for (const f of faults) {
    if (f.wrong.file?.scale) c.place.scale = f.wrong.file.scale;
    if (f.wrong.file?.widthColumn) {
      c.columns.names.width = 'width_m';
      c.columns.widthIn = 'ft';
    }
  }
  const drawer = random.fork();
  let timed: { feature: Feature; ms: number }[] = worked.flatMap(({ logs }, k) =>
    drawShapes(drawer, logs, c.grain, c.corners, c.thinM).map((shape) => ({
      feature: featureOf(
        shape,
        c.place,
        propertiesOf(drawer, shape, c.columns, c.place, parts[k].startMs, parts[k].machine),
      ),
      ms: parts[k].startMs + shape.logs[shape.logs.length - 1].to.t * 1000,
    })),
  );
  if (d.kind === 'two machines' && random.chance(0.5)) timed.sort((a, b) => a.ms - b.ms);
  const twice = faults.find((f) => f.wrong.file?.twice)?.wrong.file?.twice;
  if (twice) timed = [...timed, ...timed.slice(0, twice === 'all' ? timed.length : Math.ceil(timed.length / 2))];
  if (timed.length > MOST_RECORDS || timed.length < (c.grain.startsWith('strip') ? 4 : 150)) return null;
  const boundary = c.boundaryGiven ? edgeOf(parts, c) : null;
  const seen = worked.reduce<Seen>(
    (a, { seen: b }) => ({
      ...b,
      doubledM2: a.doubledM2 + b.doubledM2,
      offM2: a.offM2 + b.offM2,
      ends: a.ends + b.ends,
      opposite: a.opposite + b.opposite,
      pairs: a.pairs + b.pairs,
      endMs: [...a.endMs, ...b.endMs],
    }),
    { doubledM2: 0, offM2: 0, ends: 0, opposite: 0, endMs: [], slantM: 0, pairs: 0 },
  );
  seen.slantM = Math.tan((parts[0].field.slantDeg * Math.PI) / 180) * widthOf(right.bands);
  const steps = new Set(epochs.map((e) => e.display.stepM - widthOf(e.display.bands)));
  return {
    seed: d.seed,
    kind: d.kind,
    story: storyOf(d),
    faults: faults.map((f) => tell(f, { yard, right, epochs, circumstances: c, seen })),
    neverAgrees:
      d.kind === 'two plantings' && tellsApart(c, right, d.other)
        ? 'the other day another planting went into the ground'
        : null,
    mayName:
      d.kind === 'two plantings' ? OTHER_DAY : !c.control && right.bands.length > 1 ? ['section-control-off'] : [],
    map: collection(timed.map((t) => t.feature)),
    planter: planterFile(yard, d.declared),
    planting: yard.planting,
    boundary,
    records: timed.length,
    truth: {
      widthM: widthOf(right.bands),
      drawnM: [...new Set(epochs.map((e) => widthOf(e.display.bands)))],
      seamM: steps.size === 1 ? [...steps][0] : null,
    },
    circumstances: c,
  };
}

function edgeOf(parts: readonly Part[], c: Circumstances): string {
  const list = c.kind === 'two fields' ? parts : parts.slice(0, 1);
  return collection(
    list.map(({ field, offset }) => {
      const ring = field.edge.map(([x, y]): [number, number] => [x + offset[0], y + offset[1]]);
      return featureOf({ polygons: [[ring]], logs: [] }, c.place, {});
    }),
  );
}

function storyOf({ c, yard, faults, kind }: Drawn): string {
  const { logger } = c;
  const columns = Object.entries(c.columns.names).map(([role, name]) => `${role}=${name}`);
  const what = [
    `${yard.rows} rows at ${yard.spacing} ${yard.unit}, ${yard.sections.length} sections, ${yard.drives.length} drives, planted ${yard.planting}`,
    kind,
    `${c.grain}, logged every ${logger.every} ${logger.by === 'time' ? 's' : 'm'}, state: ${logger.state}`,
    c.driving,
    `headlands ${c.headlands}${c.headlands === 'none' ? '' : `, ${c.laps} laps`}`,
    c.control ? `section control, on from ${c.onFrom}, looks ${c.lookAheadS.toFixed(1)} s ahead` : 'switched by hand',
    c.slanted ? 'point rows' : '',
    c.waterway ? 'a waterway' : '',
    c.lateLift ? 'turns recorded' : '',
    `corners ${c.corners.shared ? 'shared' : 'own'}, heading ${c.corners.headingDeg}°, ${c.place.stepDeg ?? '1 cm'}`,
    columns.length > 0 ? `columns ${columns.join(' ')}` : 'no columns',
  ];
  const wrong = faults.map((f) => `${f.setting}, ${f.since}: ${f.wrong.says}`);
  return `${what.filter((w) => w !== '').join('; ')}. ${wrong.length > 0 ? `Wrong: ${wrong.join('; ')}` : 'Nothing is wrong'}.`;
}

/** A map from a seed. Draws that come to nothing (a fault that this planter cannot have, a map too large) are drawn again from the next seed of their own. */
export function simulate(seed: number, wish: Wish = {}): Simulated {
  for (let k = 0; k < 400; k++) {
    const s = draw(k === 0 ? seed : Math.imul(seed, 7919) + k * 104729, wish);
    if (s) return { ...s, seed };
  }
  throw new Error(`seed ${seed}: no such map could be drawn`);
}
