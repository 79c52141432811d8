import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import type { Io } from '../../src/cli/io.ts';
import { main } from '../../src/cli/main.ts';
import { EXPLANATIONS } from '../../src/core/report/explain.ts';

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
    expect(t.text).toMatch(/^Fixed\. No longer shown: the rows that plant\. Nothing new shows/);
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
    expect(t.text).toMatch(/^Not fixed\. Still shown: the rows that plant\./);
    expect(t.text).toContain('\n\nRows planted: not fixed\n');
    expect(status).toBe(1);
  });
  const told = async (before: string, after: string, more: string[]): Promise<{ status: number; text: string }> => {
    const t = io();
    const status = await main(['compare', before, after, ...more], t);
    return { status, text: t.text.replace(/\s+/g, ' ') };
  };
  const narrow = ['--planter', planter, '--planting', 'narrow'];
  it('cannot tell where each map fits another planting and none was named', async () => {
    const { status, text } = await told(strips('before.geojson'), strips('after.geojson'), ['--planter', planter]);
    expect(text).toMatch(/^Cannot tell yet: .*"wide".*"narrow".*which of them was planted/);
    expect(status).toBe(3);
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
    const { text } = await told('sample-data/other-pass-spacing/windbreak-forty.zip', strips('before.geojson'), narrow);
    expect(text).toMatch(/put the rows that plant right first/);
    expect(text).not.toMatch(/: fixed/);
    expect(text).toMatch(/engine off, key out/);
  });
});

describe('guessrow explain', () => {
  it('lists every setting, and tells one', async () => {
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
    const source = readFileSync('src/core/answer.ts', 'utf8');
    const union = /export type Setting =([^;]+);/.exec(source)![1];
    const named = [...union.matchAll(/'([a-z-]+)'/g)].map((m) => m[1]);
    expect(named.sort()).toEqual(EXPLANATIONS.map((e) => e.setting).sort());
  });
  it('refuses an unknown setting with the nearest', async () => {
    const t = io();
    expect(await main(['explain', 'pass-spacin'], t)).toBe(2);
    expect(t.errors).toMatch(/Did you mean "pass-spacing"/);
  });
});
