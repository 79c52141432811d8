import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import type { Answer, Setting } from '../../src/core/answer.ts';
import { check } from '../../src/core/check.ts';
import { named } from '../../src/core/intake/index.ts';
import { readPlanter } from '../../src/core/planter/index.ts';
import { EXPLANATIONS, htmlReport, toJson, toText } from '../../src/core/report/index.ts';
import { expectGolden, expectGoldenPage } from '../report/golden.ts';
import { checkSpec, field } from '../settings/help.ts';
import { CASES } from './cases.ts';

interface Sample {
  id: string;
  map: string[];
  planter: string;
  planting: string;
}
const samples = (JSON.parse(readFileSync('sample-data/index.json', 'utf8')) as { samples: Sample[] }).samples;

/** Kept as pages with their drawings too: a fault of width, of the planter, of seams and of time, and one that agrees. */
const PAGES = new Set(['sample-narrow-as-wide', 'section-idle', 'side-offset', 'changed-midway', 'agrees-metric']);

const seen: Set<Setting> = new Set();

/** Reports as a technician reads them, in text and JSON. A change of wording or of a figure shows in the diff. */
describe('golden reports of the sample fields', () => {
  for (const s of samples) {
    it(s.id, async () => {
      const file = s.map[0];
      const answer = await check({
        map: [named(file.split('/').pop()!, new Uint8Array(readFileSync(`sample-data/${file}`)))],
        planter: readPlanter(readFileSync(`sample-data/${s.planter}`, 'utf8'), s.planter),
        planting: s.planting,
      });
      expectReports(`sample-${s.id}`, answer);
    });
  }
});

describe('golden reports of seeded faults', () => {
  for (const [name, [planter, planting, rest]] of Object.entries(CASES)) {
    it(name, async () => {
      expectReports(name, await checkSpec(field(planter, planting, rest), planter, planting));
    });
  }
  it('every setting that can be named is named in one of them', () => {
    expect(EXPLANATIONS.map((e) => e.setting).filter((s) => !seen.has(s))).toEqual([]);
  });
});

function expectReports(name: string, answer: Answer): void {
  for (const d of answer.report.diagnoses) seen.add(d.setting);
  const folder = new URL('../', import.meta.url).href;
  expectGolden(folder, `${name}.txt`, steadyText(toText(answer)));
  expectGolden(folder, `${name}.json`, steadyJson(toJson(answer)));
  if (PAGES.has(name)) expectGoldenPage(folder, `${name}.html`, steadyText(htmlReport(answer)));
}

/** The residual is rounding noise and may differ in its last digit from one machine to the next. */
function steadyText(text: string): string {
  return text.replace(/to (\d(\.\d)?e-\d+ of\s+the\s+whole|the last figure)/, 'to rounding');
}

/** Lengths to a millimetre, areas to a square metre, parts of a whole to a hundredth. */
function steadyJson(json: string): string {
  const rounded = JSON.parse(json, (key, v) => {
    if (typeof v !== 'number') return v;
    if (key === 'residual') return 0;
    const decimals = /M2$/.test(key) ? 0 : /Pct$/.test(key) ? 1 : /confidence|share/.test(key) ? 2 : 3;
    return Number(v.toFixed(decimals)) || 0;
  });
  return `${JSON.stringify(rounded, null, 2)}\n`;
}
