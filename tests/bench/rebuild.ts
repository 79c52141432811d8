import { named } from '../../src/core/intake/index.ts';
import { rebuild } from '../../src/core/rebuild/index.ts';
import { drawField, toGeoJson } from '../generator/index.ts';
import { PLANTERS, rowsOf } from '../generator/planters.ts';
import { field, planterOf } from '../settings/help.ts';

/** Records per second of a whole rebuild, reading and checking included: a seeded field whose every bar is redrawn, beside one that needs no change. */
export async function rebuildTable(): Promise<string> {
  const p = PLANTERS.fifteen;
  const shape = { kind: 'strip', lengthM: 400, passes: 12 } as const;
  const rows: string[] = [];
  for (const [name, rest] of [
    ['every bar redrawn', { belief: { planted: rowsOf(15, 'odd') } }],
    ['nothing to change', { noise: { wanderM: 0, passBiasM: 0 } }],
  ] as const) {
    const drawn = drawField(field(p, 'narrow', { shape, ...rest } as never));
    const map = [named('field.geojson', toGeoJson(drawn))];
    const n = drawn.features.features.length;
    await rebuild({ map, planter: planterOf(p), planting: 'narrow' });
    const start = performance.now();
    const out = await rebuild({ map, planter: planterOf(p), planting: 'narrow' });
    const s = (performance.now() - start) / 1000;
    rows.push(`| ${name} | ${n} | ${Math.round(n / s)} | ${out.outM2.toFixed(3)} |`);
  }
  return `## Rebuild\n\n| map | records | records per second | area, m² |\n|---|---|---|---|\n${rows.join('\n')}\n`;
}
