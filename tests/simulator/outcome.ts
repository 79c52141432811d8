/** One simulated map, checked, and the answer compared with how the map came about. */

import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { type Answer, check, named, readPlanter, type Setting, UserError } from '../../src/core/index.ts';
import { closeByGeos } from '../outside/closing.ts';
import { KINDS, type Kind, type Simulated, simulate } from './index.ts';

export interface Outcome {
  seed: number;
  kind: Kind;
  story: string;
  faults: { setting: Setting; shows: string; rivals: Setting[]; why: string }[];
  verdict: string;
  /** Nothing is wrong with the display, and the map is right for the planter as declared. */
  healthy: boolean;
  named: { setting: Setting; confidence: number; right: boolean }[];
  /** Fault by fault: its setting was named at all; the first name was one that fits it. */
  found: boolean[];
  firstFits: boolean;
  /** Names that no fault of the map accounts for. "A or B" with one that is there says one thing, and is none of them. */
  extra: Setting[];
  /** The verdict is one that this map can have: no `agrees` where a fault shows, no `differs` where nothing is wrong. */
  verdictFits: boolean;
  /** Gap area as reported and by closing with GEOS (strips and pockets), square meters; null unless asked for. Of the latter, strips longer than two widths. */
  gapsM2: { reported: number; closed: number; longStrips: number } | null;
  /** Reported gap and overlap areas less the sums of their account lines, square meters. */
  accountOffM2: number;
  /** An interval that the answer gave and the value that it should hold. */
  intervals: { of: string; low: number; high: number; value: number }[];
  ms: number;
  error: string | null;
}

/** What `--only` and the like leave of a seed's freedom. */
export interface Wish {
  kind?: Kind;
  settings?: readonly Setting[];
}

export async function answerTo(map: Simulated): Promise<Answer> {
  const bytes = (text: string): Uint8Array => new TextEncoder().encode(text);
  return check({
    map: [named('map.geojson', bytes(map.map))],
    planter: readPlanter(map.planter, 'yard.planter.json'),
    planting: map.planting,
    ...(map.boundary ? { boundary: [named('edge.geojson', bytes(map.boundary))] } : {}),
  });
}

/** Open ground by GEOS, on the file that was checked. */
function gapsOf(map: Simulated, answer: Answer): Outcome['gapsM2'] {
  const folder = mkdtempSync(join(tmpdir(), 'guessrow-'));
  const path = join(folder, 'map.geojson');
  writeFileSync(path, map.map);
  const boundary = join(folder, 'edge.geojson');
  if (map.boundary) writeFileSync(boundary, map.boundary);
  const { widthM } = map.truth;
  const [c] = closeByGeos([{ map: path, widthM, noiseM: 0.1, ...(map.boundary ? { boundary } : {}) }]);
  rmSync(folder, { recursive: true });
  const long = c.pieces.filter((p) => p.kind === 'strip' && p.lengthM > 2 * widthM && p.widthM > 0.3);
  return {
    reported: answer.report.area.gapM2,
    closed: c.stripsM2 + c.pocketsM2,
    longStrips: long.reduce((sum, p) => sum + p.areaM2, 0),
  };
}

function accountOffM2({ report }: Answer): number {
  const sum = (fact: string): number =>
    report.account.filter((l) => l.fact === fact && l.picture === 'recorded').reduce((s, l) => s + l.areaM2, 0);
  return Math.max(Math.abs(report.area.gapM2 - sum('gap')), Math.abs(report.area.overlapM2 - sum('overlap')));
}

function intervalsOf(map: Simulated, answer: Answer): Outcome['intervals'] {
  const { recorded } = answer.report;
  const ci = recorded.workingWidthCi95M;
  const scaled = map.faults.some((f) => f.setting === 'map-units');
  return ci && map.truth.drawnM.length === 1 && !scaled && map.kind !== 'two machines' && map.kind !== 'two plantings'
    ? [{ of: 'width', low: ci[0], high: ci[1], value: map.truth.drawnM[0] }]
    : [];
}

export async function outcomeOf(seed: number, wish: Wish, closing = false): Promise<Outcome> {
  const map = simulate(seed, wish);
  const start = performance.now();
  const healthy = map.faults.length === 0 && map.neverAgrees === null;
  const base = { healthy, seed, kind: map.kind, story: map.story, faults: map.faults };
  let answer: Answer;
  try {
    answer = await answerTo(map);
  } catch (e) {
    const error = e instanceof UserError ? e.message : String((e as Error).stack ?? e);
    return {
      ...base,
      verdict: 'refused',
      named: [],
      found: map.faults.map(() => false),
      firstFits: false,
      extra: [],
      verdictFits: false,
      gapsM2: null,
      accountOffM2: 0,
      intervals: [],
      ms: performance.now() - start,
      error,
    };
  }
  const { verdict, diagnoses } = answer.report;
  const accounted = new Set([...map.faults.flatMap((f) => [f.setting, ...f.rivals]), ...map.mayName]);
  const list = diagnoses.map((d) => ({
    setting: d.setting,
    confidence: d.confidence,
    right: accounted.has(d.setting) || map.faults.some((f) => d.or?.includes(f.setting)),
  }));
  const found = map.faults.map((f) => list.some((d) => d.setting === f.setting));
  const first = list[0]?.setting;
  const firstFits =
    first !== undefined &&
    map.faults.some(
      (f, i) => first === f.setting || diagnoses[0].or?.includes(f.setting) || (found[i] && f.rivals.includes(first)),
    );
  const mayDiffer = list.length > 0 && list.every((d) => d.right);
  const shown = map.faults.some((f) => f.shows !== 'no') || map.neverAgrees !== null;
  return {
    ...base,
    verdict,
    named: list,
    found,
    firstFits,
    extra: list.filter((d) => !d.right).map((d) => d.setting),
    verdictFits: shown ? verdict !== 'agrees' : map.faults.length > 0 || verdict !== 'differs' || mayDiffer,
    gapsM2: closing ? gapsOf(map, answer) : null,
    accountOffM2: accountOffM2(answer),
    intervals: intervalsOf(map, answer),
    ms: performance.now() - start,
    error: diagnoses.some((d) => /undefined|NaN/.test(`${d.says} ${d.check}`)) ? 'A finding has a word missing.' : null,
  };
}

/** A kind by its name or the beginning of one. Throws with the list. */
export function kindOf(text: string): Kind {
  const kind = KINDS.find((k) => k === text) ?? KINDS.find((k) => k.startsWith(text));
  if (!kind) throw new Error(`No kind of recording is called "${text}". There are: ${KINDS.join('; ')}.`);
  return kind;
}
