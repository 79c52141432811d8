import type { Answer } from '../core/answer.ts';
import { check } from '../core/check.ts';
import { type Comparison, compare, compareEach, daysOf, placeText } from '../core/compare/index.ts';
import type { Unit } from '../core/planter/types.ts';
import { distanceText } from '../core/planter/units.ts';
import { jsonText, SETTING_TITLE, wrap } from '../core/report/index.ts';
import { CAUTIONS, UserError } from '../core/shared/messages.ts';
import type { CheckInput } from '../core/steps/job.ts';
import { checkOutput, mapPaths, namedFile, writeOutput } from '../files.ts';
import { type Io, progressLine } from './io.ts';
import {
  ACCURACY_OPTION,
  CRS_OPTION,
  DATES_OPTION,
  formatOption,
  LIMIT_OPTION,
  lengthOption,
  limitOptions,
  type Parsed,
  PLANTER_OPTION,
  recordOptions,
  type Spec,
  WHERE_OPTION,
} from './options.ts';
import { planterOptions, plantingOptions } from './planters.ts';

const FORMATS = ['text', 'json'] as const;
const ENDS = { text: '.txt', json: '.json' } as const;

export const COMPARE_OPTIONS: Spec = {
  planter: PLANTER_OPTION,
  planting: {
    value: 'NAME',
    many: true,
    says: 'what was planted, or MACHINE=NAME for one machine; left out, the maps are compared under each planting',
  },
  elsewhere: { says: 'the maps may lie far apart: the strip after the fix was driven in another field' },
  dates: DATES_OPTION,
  where: WHERE_OPTION,
  layer: { value: 'NAME', says: 'the layer to compare where a file holds several' },
  crs: CRS_OPTION,
  limit: LIMIT_OPTION,
  'pass-accuracy': ACCURACY_OPTION,
  format: { value: 'NAME', says: `${FORMATS.join(', ')}; when left out, what the ending of "--out" says, else text` },
  out: { value: 'FILE', says: 'write there instead of on the screen' },
};

const STATUS: Record<Comparison['verdict'], number> = {
  fixed: 0,
  'nothing to fix': 0,
  'not fixed': 1,
  'not enough data': 3,
};

/** `guessrow compare`: 0 fixed or nothing to fix, 1 not fixed, 3 cannot tell yet. Throws `UserError` (status 2) before anything is written. */
export async function runCompare(args: Parsed, io: Io): Promise<number> {
  const { layer, out } = args.values;
  if (args.lists.planter === undefined)
    throw new UserError('missing-option', 'A comparison needs a planter file.', {}, 'Add "--planter FILE".');
  const format = formatOption(args, FORMATS, ENDS);
  const accuracy = args.values['pass-accuracy'];
  const limits = limitOptions(args.lists.limit ?? []);
  const records = recordOptions(args);
  const found = planterOptions(args.lists.planter);
  const { planter, planters, paths } = found;
  const planted = plantingOptions(args.lists.planting ?? [], found);
  const [before, after] = args.positionals.map(mapPaths);
  if (out !== undefined) checkOutput(out, [...before, ...after, ...paths]);

  const line = progressLine(io);
  const one = (map: string[], planting: string | null): Promise<Answer> => {
    const input: CheckInput = { map: map.map(namedFile), planter, limits, ...records, ...planted };
    if (planters !== undefined) input.planters = planters;
    if (planting !== null) input.planting = planting;
    if (layer !== undefined) input.layer = layer;
    if (args.values.crs !== undefined) input.crs = args.values.crs;
    if (accuracy !== undefined) input.passAccuracyM = lengthOption(accuracy, 'pass-accuracy');
    return check(input, { progress: line.show });
  };
  let result: Comparison;
  try {
    const options = { elsewhere: args.switches.has('elsewhere') };
    const isSaid = planters !== undefined || args.lists.planting !== undefined;
    const each: { planting: string; comparison: Comparison }[] = [];
    // Each map by itself might fit another planting: both are compared under each.
    for (const p of isSaid ? [null] : planter.plantings.map((p) => p.name))
      each.push({ planting: p ?? '', comparison: compare(await one(before, p), await one(after, p), options) });
    result = compareEach(each);
  } finally {
    line.end();
  }
  const text = format === 'json' ? `${jsonText(result, 2)}\n` : comparisonText(result, planter.unit);
  if (out === undefined) await io.out(text);
  else {
    await writeOutput(out, [text]);
    await io.out(`${wrap(result.says).join('\n')}\nWritten to ${out}\n`);
  }
  return STATUS[result.verdict];
}

const OUTCOME: Record<Comparison['settings'][number]['outcome'], string> = {
  fixed: 'fixed',
  'not fixed': 'not fixed',
  'not enough data': 'cannot tell yet',
  new: 'new',
};

function comparisonText(c: Comparison, unit: Unit): string {
  const meant = 'If the strip was driven in another field on purpose, add "--elsewhere".';
  const lines = [...wrap(c.asks === 'place' ? `${c.says} ${meant}` : c.says), ''];
  for (const p of c.plantings) lines.push(...wrap(`Planted "${p.planting}": ${p.says}`, undefined, '', '  '), '');
  const apart = c.apartM === null || c.apartM === 0 ? [] : [`${distanceText(c.apartM, unit)} apart`];
  for (const [word, map] of [
    ['Before', c.before],
    ['After', c.after],
  ] as const)
    lines.push(
      ...wrap(
        `${word}: ${[map.source, daysOf(map) ?? 'no times', placeText(map) ?? 'no ground covered', ...(map === c.after ? apart : [])].join(', ')}`,
        undefined,
        '',
        '  ',
      ),
    );
  lines.push('');
  for (const s of c.settings)
    lines.push(
      `${s.machine === undefined ? '' : `${s.machine}: `}${SETTING_TITLE[s.setting]}: ${OUTCOME[s.outcome]}`,
      ...wrap(s.says, undefined, '  ', '  '),
      '',
    );
  lines.push('Before you act on this', ...CAUTIONS.flatMap((c) => wrap(c, undefined, '  - ', '    ')));
  return `${lines.join('\n')}\n`;
}
