import { basename } from 'node:path';
import type { Answer } from '../core/answer.ts';
import { check } from '../core/check.ts';
import {
  type CommandInput,
  commandLine,
  geoJsonParts,
  htmlReport,
  toCsv,
  toJson,
  toText,
  wrap,
} from '../core/report/index.ts';
import { UserError } from '../core/shared/messages.ts';
import type { CheckInput } from '../core/steps/job.ts';
import { blocks, checkOutput, mapPaths, namedFile, writeOutput } from '../files.ts';
import { type Io, progressLine } from './io.ts';
import {
  ACCURACY_OPTION,
  COLUMNS_OPTION,
  CRS_OPTION,
  columnOptions,
  DATES_OPTION,
  formatOption,
  LIMIT_OPTION,
  lengthOption,
  limitOptions,
  type Parsed,
  PLANTER_OPTION,
  pricePerHaOption,
  recordOptions,
  type Spec,
  WHERE_OPTION,
} from './options.ts';
import { planterOptions, plantingOptions } from './planters.ts';

const FORMATS = ['text', 'json', 'html', 'geojson', 'csv'] as const;
const ENDS = { text: '.txt', json: '.json', html: '.html', geojson: '.geojson', csv: '.csv' } as const;

export const CHECK_OPTIONS: Spec = {
  planter: PLANTER_OPTION,
  planting: {
    value: 'NAME',
    many: true,
    says: 'what was planted, or MACHINE=NAME for one machine; left out, the map is checked under each planting',
  },
  boundary: { value: 'FILE', says: 'the field boundary, in any format that a map may have' },
  columns: COLUMNS_OPTION,
  dates: DATES_OPTION,
  where: WHERE_OPTION,
  layer: { value: 'NAME', says: 'the layer to check when a file holds several' },
  crs: CRS_OPTION,
  limit: LIMIT_OPTION,
  'pass-accuracy': ACCURACY_OPTION,
  'seed-cost': {
    value: 'PRICE',
    says: 'what the seed for an acre or hectare costs, such as 95/ac: effects then come in money too',
  },
  format: { value: 'NAME', says: `${FORMATS.join(', ')}; when left out, what the ending of "--out" says, else text` },
  out: { value: 'FILE', says: 'write there instead of on the screen' },
};

const STATUS = { agrees: 0, differs: 1, undecided: 3 } as const;

/** `guessrow check`: returns the exit status. Throws `UserError` (status 2) before anything is written. */
export async function runCheck(args: Parsed, io: Io): Promise<number> {
  const [map] = args.positionals;
  const { boundary, layer, out } = args.values;
  const planterNames = args.lists.planter;
  if (planterNames === undefined)
    throw new UserError('missing-option', 'A check needs a planter file.', {}, 'Add "--planter FILE".');
  const format = formatOption(args, FORMATS, ENDS);
  const accuracy = args.values['pass-accuracy'];
  const passAccuracyM = accuracy === undefined ? undefined : lengthOption(accuracy, 'pass-accuracy');
  const price = args.values['seed-cost'];
  const seedCostPerHa = price === undefined ? undefined : pricePerHaOption(price, 'seed-cost');
  const columns = columnOptions(args.lists.columns ?? []);
  const limits = limitOptions(args.lists.limit ?? []);

  const found = planterOptions(planterNames);
  const { planter, planters, paths } = found;
  const planted = plantingOptions(args.lists.planting ?? [], found);
  const maps = mapPaths(map);
  const bounds = boundary === undefined ? [] : mapPaths(boundary);
  if (out !== undefined) checkOutput(out, [...maps, ...bounds, ...paths]);

  const input: CheckInput = { map: maps.map(namedFile), planter, columns, limits, ...recordOptions(args), ...planted };
  if (planters !== undefined) input.planters = planters;
  if (bounds.length > 0) input.boundary = bounds.map(namedFile);
  if (layer !== undefined) input.layer = layer;
  if (args.values.crs !== undefined) input.crs = args.values.crs;
  if (passAccuracyM !== undefined) input.passAccuracyM = passAccuracyM;
  if (seedCostPerHa !== undefined) input.seedCostPerHa = seedCostPerHa;

  const asked: CommandInput = { map, planter: planterNames, columns };
  if (args.lists.planting !== undefined) asked.planting = args.lists.planting;
  if (boundary !== undefined) asked.boundary = boundary;
  if (layer !== undefined) asked.layer = layer;
  if (args.lists.where !== undefined) asked.where = args.lists.where;
  if (args.values.dates !== undefined) asked.dates = args.values.dates;
  if (args.values.crs !== undefined) asked.crs = args.values.crs;
  if (args.lists.limit !== undefined) asked.limits = args.lists.limit;
  if (accuracy !== undefined) asked.passAccuracy = accuracy;
  if (price !== undefined) asked.seedCost = price;
  // A page is sent to others, so it names the files but not the folders.
  const command = commandLine({
    ...asked,
    map: basename(asked.map),
    planter: [asked.planter].flat().map((p) => p.replace(/[^=]*$/, (file) => basename(file))),
    ...(asked.boundary === undefined ? {} : { boundary: basename(asked.boundary) }),
  });

  const line = progressLine(io);
  let answer: Answer;
  try {
    answer = await check(input, { progress: line.show });
  } finally {
    line.end();
  }
  if (out === undefined) {
    for (const block of blocks(written(answer, format, command, io))) await io.out(block);
  } else {
    await writeOutput(out, written(answer, format, command, null));
    await io.out(`${wrap(answer.report.says).join('\n')}\nWritten to ${out}\n`);
  }
  return STATUS[answer.report.verdict];
}

function written(answer: Answer, format: (typeof FORMATS)[number], command: string, io: Io | null): Iterable<string> {
  if (format === 'json') return [toJson(answer)];
  if (format === 'html') return [htmlReport(answer, { command })];
  if (format === 'geojson') return geoJsonParts(answer);
  if (format === 'csv') return [toCsv(answer)];
  return [toText(answer, io?.paint ? { color: io.paint } : {})];
}
