/**
 * An answer sent from a worker to the audit: the report as JSON, and the numbers that pictures are drawn from. Nothing that a reader will
 * open is sent: the audit makes rows, pictures and files itself, from validated numbers.
 */
import { gunzipSync, gzipSync } from 'node:zlib';
import * as v from 'valibot';
import type { Answer, Evidence, Report } from '../core/answer.ts';
import { NO_SHAPES } from '../core/geometry/shapes.ts';
import { readPlanter, ruleBreaks } from '../core/planter/index.ts';
import { CAUTIONS } from '../core/shared/messages.ts';
import { REPORT, shaped } from './schema.ts';
import type { Job } from './types.ts';

/** Largest answer when it is unpacked, bytes. */
const MOST_BYTES = 400_000_000;

const KINDS = {
  f64: Float64Array,
  u32: Uint32Array,
  i32: Int32Array,
  i16: Int16Array,
  f32: Float32Array,
} as const;
type Kind = keyof typeof KINDS;
type Bytes = { [type in Kind]?: string };

function packed(a: Float64Array | Uint32Array | Int32Array | Int16Array | Float32Array): Bytes {
  const kind = (Object.keys(KINDS) as Kind[]).find((k) => a instanceof KINDS[k])!;
  return { [kind]: Buffer.from(a.buffer, a.byteOffset, a.byteLength).toString('base64') };
}

const bytes = v.string();
const array = <K extends Kind>(kind: K) =>
  v.pipe(
    v.strictObject({ [kind]: bytes } as Record<K, typeof bytes>),
    v.transform((o) => {
      const b = Buffer.from((o as Record<string, string>)[kind], 'base64');
      const Kind = KINDS[kind];
      const whole = b.byteLength - (b.byteLength % Kind.BYTES_PER_ELEMENT);
      return new Kind(b.buffer.slice(b.byteOffset, b.byteOffset + whole)) as InstanceType<(typeof KINDS)[K]>;
    }),
  );

const points = v.pipe(
  array('f64'),
  v.check((a) => a.length % 2 === 0 && a.every((n) => Math.abs(n) <= Number.MAX_SAFE_INTEGER), 'not a list of points'),
);
/** Starts that rise from 0 to at most `most`. */
const rises = (a: Uint32Array, most: number): boolean =>
  a.length > 0 && a[0] === 0 && a.every((n, i) => i === 0 || n >= a[i - 1]) && a[a.length - 1] <= most;
const polygons = v.pipe(
  v.strictObject({ xy: points, ringStart: array('u32'), polygonStart: array('u32') }),
  v.check(
    (p) => rises(p.ringStart, p.xy.length / 2) && rises(p.polygonStart, p.ringStart.length - 1),
    'not a list of polygons',
  ),
);
function top(a: ArrayLike<number>): number {
  let most = -1;
  for (let i = 0; i < a.length; i++) most = Math.max(most, a[i]);
  return most;
}
const number = v.pipe(v.number(), v.finite());
/** JSON has no NaN, which marks an unknown seam. */
const orNaN = v.pipe(
  v.nullable(number),
  v.transform((n) => n ?? Number.NaN),
);
const count = v.pipe(v.number(), v.safeInteger(), v.minValue(0));
const time = v.nullable(v.pipe(number, v.minValue(-8.64e15), v.maxValue(8.64e15)));
const pass = v.strictObject({
  number: count,
  bars: count,
  lengthM: number,
  headingDeg: number,
  recordedWidthM: orNaN,
  startMs: time,
  endMs: time,
  track: points,
});
const seam = v.strictObject({
  passA: count,
  passB: count,
  opposite: v.boolean(),
  facing: v.picklist(['right-right', 'left-left', 'same-way'] as const),
  recordedM: orNaN,
  plantedM: orNaN,
  samples: count,
});
const scale = v.pipe(number, v.gtValue(0));
const most = <T extends v.GenericSchema>(of: T) => v.pipe(v.array(of), v.maxLength(1_000_000));

const ANSWER = v.strictObject({
  report: REPORT,
  machine: v.nullable(v.pipe(v.string(), v.maxLength(1000))),
  evidence: v.pipe(
    v.strictObject({
      lattice: v.strictObject({ stepsPerDegree: scale, originX: number, originY: number }),
      recordPass: array('u32'),
      recordBar: array('i32'),
      recordSection: array('i16'),
      recordWidthM: array('f32'),
      covered: polygons,
      overlap: polygons,
      gaps: polygons,
      account: most(polygons),
      boundary: most(points),
      passes: most(pass),
      seams: most(seam),
      stepsPerMeter: v.strictTuple([scale, scale]),
    }),
    v.check(
      (e) => [e.recordPass, e.recordSection, e.recordWidthM].every((a) => a.length === e.recordBar.length),
      'records without a pass, a section or a width',
    ),
    v.check((e) => e.recordBar.every((b) => b < e.recordBar.length), 'more bars than records'),
    // The time line takes a byte for each section of each bar.
    v.check((e) => (top(e.recordBar) + 1) * (top(e.recordSection) + 1) <= MOST_BYTES, 'too many sections'),
  ),
});
type Travelling = v.InferOutput<typeof ANSWER>['evidence'];

/** Every part of an evidence that does not travel: no file of an audit is drawn from it. */
const LEFT_OUT: Omit<Evidence, keyof Travelling> = {
  density: [0, 0, 0, 0],
  records: NO_SHAPES,
  recordNumber: new Uint32Array(0),
  machines: [],
  planted: NO_SHAPES,
  plantedLattice: { stepsPerDegree: 1, originX: 0, originY: 0 },
  plantedPass: new Uint32Array(0),
  plantedApart: false,
};

/** What a field's check gives: the answer, and the machine that a column of the map names. */
export interface Solved {
  answer: Answer;
  machine: string | null;
}

/** The answer as text for a queue. */
export function pack({ answer, machine }: Solved): string {
  const evidence = Object.fromEntries(Object.entries(answer.evidence).filter(([name]) => !(name in LEFT_OUT)));
  const json = JSON.stringify({ report: answer.report, machine, evidence }, (_, value) =>
    ArrayBuffer.isView(value) ? packed(value as Float64Array) : value,
  );
  return gzipSync(json, { level: 3 }).toString('base64');
}

/** The answer from a queue's text, or what is wrong with it. Planter and cautions are always the audit's own. */
export function unpack(text: string, job: Job): Solved | { fault: string } {
  let json: unknown;
  try {
    json = JSON.parse(gunzipSync(Buffer.from(text, 'base64'), { maxOutputLength: MOST_BYTES }).toString('utf8'));
  } catch {
    return { fault: 'it cannot be unpacked' };
  }
  const found = shaped(ANSWER, json);
  if ('fault' in found) return found;
  const { machine, evidence } = found.value;
  // The order of its keys is that of the JSON that is written from it.
  const { report } = json as { report: Report };
  const planters = (job.settings.planters ?? [{ text: job.planter, file: job.planterFile }]).map((p) =>
    readPlanter(p.text, p.file),
  );
  const planter = planters.find((p) => p.name === report.declared.planter);
  if (planter === undefined) return { fault: 'report.declared.planter: another planter' };
  const { planting } = report.declared;
  if (!planter.plantings.some((p) => p.name === planting))
    return { fault: 'report.declared.planting: no planting of the planter' };
  if (report.map.bars > evidence.recordBar.length) return { fault: 'report.map.bars: more bars than records' };
  const answer: Answer = {
    report: { ...report, cautions: [...CAUTIONS] },
    planter,
    ruleBreaks: ruleBreaks(planter),
    evidence: { ...LEFT_OUT, ...evidence },
  };
  return { answer, machine };
}
