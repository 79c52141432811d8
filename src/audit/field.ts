import { basename } from 'node:path';
import type { Answer, Diagnosis, Report } from '../core/answer.ts';
import { checkSource } from '../core/check.ts';
import type { NamedBytes, RecordSet } from '../core/intake/index.ts';
import { readPlanter } from '../core/planter/index.ts';
import { clean, htmlReport, toJson, toText } from '../core/report/index.ts';
import { line, UserError } from '../core/shared/messages.ts';
import { jobOf } from '../core/steps/job.ts';
import { readSource } from '../core/steps/source.ts';
import { namedFile } from '../files.ts';
import { pictureOf } from './picture.ts';
import { bytesFrom, type MapsFrom } from './source.ts';
import type { Checked, Field, Job, Row } from './types.ts';
import type { Solved } from './wire.ts';

/** Usual names of a machine column in displays and lists. */
const MACHINE = /^(machine|tractor|vehicle|equipment|implement|planter)([ _-]?(id|name|no|nr|number|serial))?$/i;

/**
 * Checks one field. A map that cannot be used is a result too: `refused` says why. An exception is trouble of this machine
 * (network, memory) or a bug, and another try may succeed.
 */
export async function solve(job: Job, from: MapsFrom | null): Promise<Solved | { refused: string }> {
  try {
    return await solved(job, from);
  } catch (e) {
    if (!(e instanceof UserError)) throw e;
    return { refused: clean(line(e.detail)) };
  }
}

async function solved(job: Job, from: MapsFrom | null): Promise<Solved> {
  const { settings } = job;
  const planter = readPlanter(job.planter, job.planterFile);
  const planters = settings.planters?.map((p) => ({
    planter: readPlanter(p.text, p.file),
    ...(p.machine === undefined ? {} : { machine: p.machine }),
  }));
  const open = (names: readonly string[]): Promise<NamedBytes[]> =>
    Promise.all(names.map(async (n) => (from === null ? namedFile(n) : await bytesFrom(from, n))));
  const { machineColumn, planters: _, ...rest } = settings;
  const wanted = { ...rest, planter, ...(planters ? { planters } : {}) };
  const checked = jobOf(wanted);
  const map = await open(job.map);
  const boundary = job.boundary.length > 0 ? { boundary: await open(job.boundary) } : {};
  const source = await readSource({ ...wanted, map, ...boundary }, checked);
  return { answer: checkSource(source, checked), machine: machineOf(source.records, machineColumn) };
}

/** Row, picture and reports of a field: made only here, whoever checked it. */
export function drawn(found: Solved | { refused: string }): Checked {
  if ('refused' in found) return { row: notChecked(found.refused), picture: null, reports: {} };
  const { answer, machine } = found;
  return {
    row: rowOf(answer, machine),
    picture: pictureOf(answer),
    reports: { html: htmlReport(answer), txt: toText(answer), json: toJson(answer) },
  };
}

function rowOf({ report, planter, evidence }: Answer, machine: string | null): Row {
  const times = evidence.passes
    .flatMap((p) => (p.startMs === null || p.endMs === null ? [] : [p.startMs, p.endMs]))
    // No calendar has a day beyond this.
    .filter((ms) => Math.abs(ms) <= 8.64e15);
  const verdicts = new Set(report.ifPlanted.map((p) => p.verdict));
  const waits = verdicts.size > 1 ? report.ifPlanted.map((p) => p.planting) : [];
  const found = waits.length > 0 ? [] : report.diagnoses;
  const area = (d: Diagnosis): number => (d.effect.unplantedM2 ?? 0) + (d.effect.doubledM2 ?? 0);
  return {
    // A guess at the planting would hide the fault in question: the display left on another planting.
    verdict: waits.length > 0 ? 'undecided' : report.verdict,
    says: clean(report.says),
    settings: found.map((d) => d.setting),
    planter: planter.name,
    planting: report.declared.planting,
    waits,
    recordedPlanting: report.recorded.bestFit?.planting ?? null,
    next: nextStep(report, waits),
    redraw: report.ifPlanted.length === 0 && report.verdict === 'differs' && REDRAWN.has(report.map.grain),
    machine,
    firstMs: times.length > 0 ? Math.min(...times) : null,
    lastMs: times.length > 0 ? Math.max(...times) : null,
    unit: planter.unit,
    // Two settings that explain one map share the affected ground: it is not added up.
    affectedM2: Math.max(0, ...found.map(area)),
    cost: costOf(found.reduce<Diagnosis | null>((a, d) => (a === null || area(d) > area(a) ? d : a), null)),
    acreCountPct: found.find((d) => d.effect.acreCountPct !== null)?.effect.acreCountPct ?? null,
    declaredWidthM: report.declared.workingWidthM,
    recordedWidthM: report.recorded.workingWidthM,
    recordedM2: report.area.recordedM2,
    coveredM2: report.area.coveredM2,
    gapM2: report.area.gapM2,
    overlapM2: report.area.overlapM2,
    records: report.map.records,
    used: report.map.used,
    passes: report.map.passes,
  };
}

/** Grains of which a map can be rebuilt. */
const REDRAWN: ReadonlySet<Report['map']['grain']> = new Set(['section', 'bar']);

function costOf(d: Diagnosis | null): number | null {
  const cost = d?.effect.seedCost ?? null;
  return cost === null ? null : (cost.doubledCost ?? 0) + (cost.unplantedCost ?? 0);
}

function nextStep({ verdict, diagnoses, wouldDecide }: Report, waits: readonly string[]): string {
  if (waits.length > 0) return 'Say what was planted: in the column "planting" of a list, or with "--planting NAME".';
  if (verdict === 'differs') return clean(diagnoses[0]?.check ?? '');
  return verdict === 'undecided' ? clean(wouldDecide[0] ?? '') : '';
}

/** The row of a field that has no answer. */
export function notChecked(says: string): Row {
  return {
    verdict: 'not checked',
    says,
    settings: [],
    planter: '',
    planting: '',
    waits: [],
    recordedPlanting: null,
    next: '',
    redraw: false,
    machine: null,
    firstMs: null,
    lastMs: null,
    unit: 'm',
    affectedM2: 0,
    cost: null,
    acreCountPct: null,
    declaredWidthM: null,
    recordedWidthM: null,
    recordedM2: 0,
    coveredM2: 0,
    gapM2: 0,
    overlapM2: 0,
    records: 0,
    used: 0,
    passes: 0,
  };
}

/** The machine, if one column names the same one throughout; several machines in one map are named together. */
function machineOf(records: RecordSet, wanted: string | undefined): string | null {
  const columns = records.columns.filter((c) => (wanted === undefined ? MACHINE.test(c.name) : c.name === wanted));
  if (columns.length === 0) {
    if (wanted === undefined) return null;
    throw new UserError(
      'columns-name',
      `The map has no column "${wanted}" that names the machine.`,
      { file: basename(records.source) },
      `Its columns are ${records.columns.map((c) => c.name).join(', ') || 'none'}.`,
    );
  }
  const [c] = columns;
  const found = new Set<string>();
  const n = c.kind === 'number' ? c.values.length : c.codes.length;
  for (let i = 0; i < n && found.size < 4; i++) {
    const v = c.kind === 'number' ? (Number.isNaN(c.values[i]) ? '' : String(c.values[i])) : c.words[c.codes[i]].trim();
    if (v !== '') found.add(v.slice(0, 60));
  }
  // A column with many values is a count or a measurement, not a name.
  return found.size === 0 || found.size > 3 ? null : [...found].sort().join(' + ');
}

/** The part of a field that its check needs. */
export function checkerJob({ map, boundary, planter, planterFile, settings, seconds }: Field): Job {
  return { map, boundary, planter, planterFile, settings, seconds };
}
