import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import type { Io } from '../../src/cli/io.ts';
import { main } from '../../src/cli/main.ts';
import { check } from '../../src/core/check.ts';
import { compare } from '../../src/core/compare/index.ts';
import { readPlanter } from '../../src/core/planter/index.ts';
import { EXPLANATIONS } from '../../src/core/report/explain.ts';
import { SETTING_TITLE } from '../../src/core/report/index.ts';
import { mapPaths, namedFile } from '../../src/files.ts';

interface Sink extends Io {
  text: string;
  errors: string;
}

function io(): Sink {
  const sink: Sink = {
    text: '',
    errors: '',
    out: async (s) => {
      sink.text += s;
    },
    err: (s) => {
      sink.errors += s;
    },
    paint: null,
    progress: false,
    onStop: () => {},
  };
  return sink;
}

const strips = (name: string): string => `sample-data/test-strips/${name}`;
const planter = strips('test-strips.planter.json');

describe('guessrow compare', () => {
  it('says fixed where the strips after the change show nothing', async () => {
    const t = io();
    const status = await main(
      ['compare', strips('before.geojson'), strips('after.geojson'), '--planter', planter, '--planting', 'narrow'],
      t,
    );
    expect(t.text).toMatch(/^Fixed\. No longer shown: the choice of planted rows\. Nothing new shows/);
    // By the name that a check and an audit give it.
    expect(t.text).toMatch(/\n\nRows planted: fixed\n/);
    expect(t.text).not.toMatch(/^planted-rows/m);
    expect(status).toBe(0);
  });
  it('says not fixed where both show it', async () => {
    const t = io();
    const status = await main(
      ['compare', strips('before.geojson'), strips('before.geojson'), '--planter', planter, '--planting', 'narrow'],
      t,
    );
    expect(t.text).toMatch(/^Not fixed\. Still shown: the choice of planted rows\./);
    expect(t.text).toContain('\n\nRows planted: not fixed\n');
    expect(status).toBe(1);
  });
  const told = async (before: string, after: string, more: string[]): Promise<{ status: number; text: string }> => {
    const t = io();
    const status = await main(['compare', before, after, ...more], t);
    return { status, text: t.text.replace(/\s+/g, ' ') };
  };
  const narrow = ['--planter', planter, '--planting', 'narrow'];
  it('says what follows under each planting where none was named', async () => {
    const { status, text } = await told(strips('before.geojson'), strips('after.geojson'), ['--planter', planter]);
    expect(text).toMatch(/^Cannot tell yet: the answer depends on which planting was planted\. Name it/);
    expect(text).toMatch(/Planted "narrow": Fixed\. No longer shown: the choice of planted rows\./);
    expect(text).toMatch(/Planted "wide": (?!Fixed)/);
    expect(status).toBe(3);
  });
  it('says where and when both maps were recorded', async () => {
    const { text } = await told(strips('before.geojson'), strips('after.geojson'), narrow);
    expect(text).toMatch(/Before: before\.geojson, \w+ \d+, \d{4}, \d+\.\d{4}° [NS], \d+\.\d{4}° [EW]/);
    expect(text).toMatch(/After: after\.geojson, \w+ \d+, \d{4}, /);
  });
  it('asks where the dates say that the maps were swapped', async () => {
    const dir = mkdtempSync(join(tmpdir(), 'guessrow-'));
    const later = join(dir, 'later.geojson');
    writeFileSync(later, readFileSync(strips('after.geojson'), 'utf8').replaceAll('2026-04-20T', '2026-05-03T'));
    const { status, text } = await told(later, strips('before.geojson'), narrow);
    expect(text).toMatch(
      /^Cannot tell yet: the map given as before was recorded after the other: .*Give the earlier map first\./,
    );
    expect(text).not.toMatch(/: (fixed|not fixed)/);
    expect(status).toBe(3);
  });
  it('asks where the maps lie apart, and compares them when that is meant', async () => {
    const dir = mkdtempSync(join(tmpdir(), 'guessrow-'));
    const away = join(dir, 'away.geojson');
    const map = JSON.parse(readFileSync(strips('after.geojson'), 'utf8'));
    // A tenth of a degree of latitude is 11.1 km (one degree: 111.2 km on a sphere of 6,371 km).
    for (const f of map.features) for (const ring of f.geometry.coordinates) for (const p of ring) p[1] += 0.1;
    writeFileSync(away, JSON.stringify(map));
    const { status, text } = await told(strips('before.geojson'), away, narrow);
    expect(text).toMatch(/^Cannot tell yet: the two maps lie (11(\.\d)? km|6\.9 mi) apart\..*add "--elsewhere"\./);
    expect(status).toBe(3);
    const meant = await told(strips('before.geojson'), away, [...narrow, '--elsewhere']);
    expect([meant.status, meant.text]).toEqual([0, expect.stringMatching(/^Fixed\./)]);
  });
  it('compares two maps of one planter only', async () => {
    const answer = async (name: string, file: string) =>
      check({
        map: mapPaths(strips(name)).map(namedFile),
        planter: readPlanter(file, 'p.planter.json'),
        planting: 'narrow',
      });
    const text = readFileSync(planter, 'utf8');
    const other = JSON.stringify({ ...JSON.parse(text), name: 'Another one' });
    const both = compare(await answer('before.geojson', text), await answer('after.geojson', other));
    expect([both.verdict, both.settings]).toEqual(['not enough data', []]);
    expect(both.says).toMatch(/with "Another one"\. Compare two maps of one planter/);
  });
  it('cannot tell after a map that decides nothing', async () => {
    const { features } = JSON.parse(readFileSync(strips('before.geojson'), 'utf8'));
    const dir = mkdtempSync(join(tmpdir(), 'guessrow-'));
    const short = join(dir, 'short.geojson');
    writeFileSync(short, JSON.stringify({ type: 'FeatureCollection', features: features.slice(0, 40) }));
    const { status, text } = await told(short, strips('after.geojson'), narrow);
    expect(text).toMatch(/^Cannot tell yet: the map before the fix decides nothing/);
    expect(status).toBe(3);
  });
  it('clears no pass spacing while the recorded width is wrong', async () => {
    const { text } = await told('sample-data/other-pass-spacing/windbreak-forty.zip', strips('before.geojson'), [
      ...narrow,
      '--elsewhere',
    ]);
    expect(text).toMatch(/correct the choice of planted rows first/);
    expect(text).not.toMatch(/: fixed/);
    expect(text).toMatch(/engine off, key out/);
  });
});

describe('guessrow explain', () => {
  it('lists every setting, and explains one', async () => {
    const t = io();
    expect(await main(['explain'], t)).toBe(0);
    for (const e of EXPLANATIONS) expect(t.text).toContain(e.setting);
    const one = io();
    expect(await main(['explain', 'pass-spacing'], one)).toBe(0);
    expect(one.text).toMatch(/What the map shows/);
    expect(one.text).toMatch(/engine off, key out/);
    for (const l of one.text.split('\n')) expect(l.length).toBeLessThanOrEqual(100);
  });
  it('has one text for every setting that a diagnosis can name', () => {
    const source = readFileSync('src/core/shared/setting.ts', 'utf8');
    const union = /export type Setting =([^;]+);/.exec(source)![1];
    const named = [...union.matchAll(/'([a-z-]+)'/g)].map((m) => m[1]);
    expect(named.sort()).toEqual(EXPLANATIONS.map((e) => e.setting).sort());
  });
  it('finds a setting by its title as by its name, in any case', async () => {
    const by = async (...words: string[]): Promise<string> => {
      const t = io();
      expect([words, await main(['explain', ...words], t)]).toEqual([words, 0]);
      return t.text;
    };
    const one = await by('planted-rows');
    for (const name of [
      'Rows planted',
      'rows planted',
      ' ROWS  PLANTED ',
      'planted rows',
      'planted_rows',
      'Planted-Rows',
    ])
      expect(await by(name)).toBe(one);
    const slip = io();
    expect(await main(['explain', 'Row planted'], slip)).toBe(2);
    expect(slip.errors).toMatch(/Did you mean "(Rows planted|planted-rows)"/);
    for (const e of EXPLANATIONS)
      for (const title of [e.title, SETTING_TITLE[e.setting]]) expect(await by(title)).toBe(await by(e.setting));
  });
  it('refuses an unknown setting with the nearest', async () => {
    const t = io();
    expect(await main(['explain', 'pass-spacin'], t)).toBe(2);
    expect(t.errors).toMatch(/Did you mean "pass-spacing"/);
  });
});

describe('guessrow', () => {
  it('prints the version of the package', async () => {
    const t = io();
    expect(await main(['--version'], t)).toBe(0);
    expect(t.text).toBe(`${JSON.parse(readFileSync('package.json', 'utf8')).version}\n`);
  });
  it('helps with a command by its name', async () => {
    const [one, two] = [io(), io()];
    expect([await main(['help', 'check'], one), await main(['check', '--help'], two)]).toEqual([0, 0]);
    expect(one.text).toBe(two.text);
    const slip = io();
    expect(await main(['help', 'chek'], slip)).toBe(2);
    expect(slip.errors).toMatch(/Did you mean "guessrow check"/);
    expect(await main(['help', 'check', 'compare'], io())).toBe(2);
  });
  it('writes the format that the ending of the output names', async () => {
    const dir = mkdtempSync(join(tmpdir(), 'guessrow-'));
    const start = async (name: string, ...more: string[]): Promise<string> => {
      const out = join(dir, name);
      expect(
        await main(
          ['check', strips('before.geojson'), '--planter', planter, '--planting', 'narrow', '--out', out, ...more],
          io(),
        ),
      ).toBe(1);
      return readFileSync(out, 'utf8').slice(0, 40);
    };
    expect(await start('r.html')).toMatch(/^<!doctype html>/);
    expect(await start('r.HTML')).toMatch(/^<!doctype html>/);
    expect(await start('r.json')).toMatch(/^{\n {2}"report"/);
    expect(await start('r.geojson')).toMatch(/^{"type":"FeatureCollection"/);
    expect(await start('r.csv')).toMatch(/^map,row,pass,/);
    expect(await start('r.txt')).toMatch(/^DIFFERS/);
    expect(await start('r')).toMatch(/^DIFFERS/);
    expect(await start('other.json', '--format', 'geojson')).toMatch(/^{"type":"FeatureCollection"/);
  });
});
