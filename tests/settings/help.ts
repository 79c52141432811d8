import type { Answer, Setting } from '../../src/core/answer.ts';
import { check } from '../../src/core/check.ts';
import { named } from '../../src/core/intake/index.ts';
import { readPlanter } from '../../src/core/planter/index.ts';
import type { Planter } from '../../src/core/planter/types.ts';
import type { CheckInput } from '../../src/core/steps/job.ts';
import { drawField, toGeoJson } from '../generator/index.ts';
import type { InventedPlanter } from '../generator/planters.ts';
import type { DrawnField, FieldSpec } from '../generator/spec.ts';

export const planterOf = (p: InventedPlanter): Planter =>
  readPlanter(JSON.stringify(p.file), `${p.file.name}.planter.json`);

/** Meters per unit of an invented planter's file. */
export const metersOf = (p: InventedPlanter): number => ({ in: 0.0254, cm: 0.01, m: 1 })[p.file.unit];

/** A small field: one headland lap, a curve, wander and pass bias of an accurate receiver, section control, 1 Hz. */
export function field(p: InventedPlanter, planting: string, rest: Partial<FieldSpec> = {}): FieldSpec {
  return {
    seed: 31,
    origin: { lat: 47.2, lon: 8.1 },
    headingDeg: 17,
    truth: p.as(planting),
    passSpacingM: p.file.passSpacing[planting] * metersOf(p),
    shape: { kind: 'field', lengthM: 190, widthM: 95, headlandLaps: 1, curve: { amplitudeM: 3, wavelengthM: 260 } },
    noise: { wanderM: 0.025, passBiasM: 0.01 },
    sectionControl: true,
    columns: { time: { name: 'logged_at', as: 'iso' }, section: { name: 'sec' } },
    ...rest,
  };
}

export async function answer(
  drawn: DrawnField,
  planter: Planter,
  planting?: string,
  rest: Partial<CheckInput> = {},
): Promise<Answer> {
  return check({
    ...rest,
    map: [named('field.geojson', toGeoJson(drawn))],
    planter,
    ...(planting === undefined ? {} : { planting }),
  });
}

export async function checkSpec(
  spec: FieldSpec,
  p: InventedPlanter,
  planting?: string,
  rest: Partial<CheckInput> = {},
): Promise<Answer> {
  return answer(drawField(spec), planterOf(p), planting, rest);
}

/** Settings in the order of the report. */
export const settingsOf = (a: Answer): Setting[] => a.report.diagnoses.map((d) => d.setting);
