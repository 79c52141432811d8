import { describe, expect, it } from 'vitest';
import type { Setting } from '../../src/core/answer.ts';
import { settingsInWords } from '../../src/core/infer/index.ts';
import { answer } from './help.ts';
import { drawTable, type Fault, frameOf, planterOfTable, TABLE } from './table.ts';

/**
 * Every setting of the diagnosis table, on odd and even frames, with one to three drives, in inches and in centimeters: the seeded
 * setting is named first, or shares with those that record the same map.
 */
const CLEAN: Fault = { spec: {} };

for (const parity of ['odd', 'even'] as const)
  for (const unit of ['in', 'cm'] as const)
    for (const drives of [1, 2, 3])
      describe(`an ${parity} frame, ${drives} drive${drives > 1 ? 's' : ''}, ${unit}`, () => {
        const f = frameOf(parity, unit, drives);
        it('as declared: nothing is named', async () => {
          expect((await answer(drawTable(f, CLEAN), planterOfTable(f, CLEAN), 'narrow')).report.diagnoses).toEqual([]);
        });
        for (const [setting, make] of Object.entries(TABLE) as [Setting, (typeof TABLE)[Setting]][]) {
          const fault = make(f);
          if (!fault) continue;
          it(setting, async () => {
            const { report } = await answer(drawTable(f, fault), planterOfTable(f, fault), fault.planting ?? 'narrow');
            const names = report.diagnoses.map((d) => d.setting);
            expect(names).toContain(setting);
            const [first] = report.diagnoses;
            // Two settings that record the same map name each other.
            if (first.setting !== setting) expect(first.says).toContain(settingsInWords([setting]));
          });
        }
      });
