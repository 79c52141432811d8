/** What the library looks at before it reads, and how it is stopped. */
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import {
  type Change,
  type CheckInput,
  check,
  EXPLANATIONS,
  flatGeobuf,
  geoParquet,
  named,
  type RebuildInput,
  readPlanter,
  rebuild,
  toJson,
  UserError,
} from '../../src/core/index.ts';

const folder = 'sample-data/test-strips/';
const planter = readPlanter(readFileSync(`${folder}test-strips.planter.json`, 'utf8'), 'p.planter.json');
const file = named('before.geojson', readFileSync(`${folder}before.geojson`));
const good: CheckInput = { map: file, planter, planting: 'narrow' };

describe('the library', () => {
  it('takes one file as a map, or its parts', async () => {
    const [one, list] = [await check(good), await check({ ...good, map: [file] })];
    expect(toJson(one) === toJson(list)).toBe(true);
    await expect(check({ ...good, map: [] })).rejects.toThrow(/No map was given/);
  });

  const refused = async (work: Promise<unknown>): Promise<string> => {
    const e = await work.then(
      () => null,
      (x) => x,
    );
    expect(e).toBeInstanceOf(UserError);
    return `${e.detail.sentence} ${e.detail.todo}`;
  };
  it.each([
    ['passAccuracyM', -1, /-1 is not a value of "passAccuracyM"\. Give a number of meters above 0 and at most 2/],
    ['passAccuracyM', Number.NaN, /NaN is not a value/],
    ['passAccuracyM', '0.02', /0\.02 is not a value/],
    ['seedCostPerHa', 0, /0 is not a value of "seedCostPerHa"/],
    ['seedCostPerHa', Number.POSITIVE_INFINITY, /Infinity is not a value/],
    ['limits', { recrods: 5 }, /no limit "recrods"\. Did you mean "records"/],
    ['limits', { toString: 5 }, /no limit "toString"/],
    ['limits', { records: 1.5 }, /1\.5 is not a value of the limit "records"/],
  ])('refuses %s %s', async (name, value, says) => {
    expect(await refused(check({ ...good, [name]: value } as CheckInput))).toMatch(says);
    expect(await refused(rebuild({ ...good, [name]: value } as RebuildInput))).toMatch(says);
  });
  it('refuses an unknown grain for a rebuild', async () => {
    expect(await refused(rebuild({ ...good, by: 'row' } as unknown as RebuildInput))).toMatch(
      /"row" is not a value of "by"/,
    );
  });

  it('stops at a signal, with its reason, before, while it reads and between stages', async () => {
    const reason = new Error('enough');
    await expect(check(good, { signal: AbortSignal.abort(reason) })).rejects.toBe(reason);
    const between = new AbortController();
    const seen: string[] = [];
    const stopped = check(good, {
      signal: between.signal,
      progress(stage) {
        seen.push(stage);
        if (stage === 'fitting the layout') between.abort(reason);
      },
    });
    await expect(stopped).rejects.toBe(reason);
    expect(seen).toContain('fitting the layout');
    expect(seen).not.toContain('measuring covered ground');
    const reading = new AbortController();
    const slow = {
      ...file,
      async *chunks() {
        for await (const c of file.chunks()) {
          reading.abort(reason);
          yield c;
        }
      },
    };
    await expect(check({ ...good, map: slow }, { signal: reading.signal })).rejects.toBe(reason);
    await expect(rebuild(good, { signal: AbortSignal.abort(reason) })).rejects.toBe(reason);
  });

  it('offers formats, changes and explanations', async () => {
    const { layer, changes } = await rebuild(good);
    const first: Change = changes[0];
    expect(first.done).toBe('moved');
    // Magic bytes: FlatGeobuf specification ("fgb"), Apache Parquet ("PAR1").
    expect(
      Buffer.from(await flatGeobuf({ ...layer, name: 'x' }))
        .subarray(0, 3)
        .toString(),
    ).toBe('fgb');
    expect(
      Buffer.from(await geoParquet(layer))
        .subarray(0, 4)
        .toString(),
    ).toBe('PAR1');
    expect(EXPLANATIONS.map((e) => e.setting)).toContain('planted-rows');
  });
});
