import { describe, expect, test } from 'vitest';
import type { Diagnosis, Report } from '../../src/core/answer.ts';
import { headline } from '../../src/core/report/index.ts';

const diagnosis = (setting: Diagnosis['setting'], says: string): Diagnosis => ({
  setting,
  confidence: 0.9,
  says,
  check: '',
  because: [],
  effect: { acreCountPct: 6.66, unplantedM2: 1678.16, doubledM2: 0, populationFactor: 0.9375, seedCost: null },
});
/** What the setting adds to the count: 0.467 acres of 4046.86 square meters. */
const ACCOUNT = [{ setting: 'planted-rows', excessM2: 1889.9, passes: [1] }];
const report = (part: Partial<Report>): Report =>
  ({
    diagnoses: [],
    says: '',
    declared: { seedCostPerHa: null },
    machines: [],
    account: ACCOUNT,
    ...part,
  }) as unknown as Report;

describe('the headline of an answer', () => {
  test('is the first diagnosis with what it did, without what follows under a condition', () => {
    const d = [diagnosis('planted-rows', 'Display set to wide.'), diagnosis('side-offset', 'Shifted.')];
    const { cause, did, also } = headline(report({ verdict: 'differs', diagnoses: d }), 'in');
    expect(cause).toBe('Display set to wide.');
    // 1678.16 m2 / 4046.86 m2 an acre.
    expect(did).toEqual(['0.467 ac (6.7 %) too much in the acre count.', '0.415 ac left without rows.']);
    expect(also).toEqual(['side offset']);
  });

  test('names a second diagnosis of the same setting as another one, not as the same again', () => {
    const twice = [diagnosis('changed-midway', 'Changed.'), diagnosis('changed-midway', 'Changed back.')];
    const dropped = [diagnosis('pass-spacing', 'Apart.'), diagnosis('section-stuck-off', 'Drops out.')];
    const also = (d: Diagnosis[]): string[] => headline(report({ verdict: 'differs', diagnoses: d }), 'in').also;
    expect(also(twice)).toEqual(['another setting that changed midway']);
    expect(also(dropped)).toEqual(['a section that drops out']);
  });

  test('is the verdict’s own sentence where no setting is to blame', () => {
    const says = 'Undecided: the map is too short.';
    expect(headline(report({ verdict: 'undecided', says }), 'in')).toEqual({
      cause: 'The map is too short.',
      did: [],
      also: [],
    });
  });
});
