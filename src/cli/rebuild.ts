import { basename, extname } from 'node:path';
import { canBear, encodeLayer, inSystem, LAYER_FORMATS, type LayerFormat } from '../core/formats/index.ts';
import { type System, wantedCrs } from '../core/intake/index.ts';
import type { Unit } from '../core/planter/types.ts';
import { areaText } from '../core/planter/units.ts';
import { type RebuildInput, type Rebuilt, rebuild } from '../core/rebuild/index.ts';
import { changeCsv, changeJson, NO_FRAME } from '../core/redraw/index.ts';
import { aboutRebuilt, clean, noteText, wrap } from '../core/report/index.ts';
import { CAUTIONS, UserError } from '../core/shared/messages.ts';
import { checkOutput, mapPaths, namedFile, writeOutputs } from '../files.ts';
import { type Io, progressLine } from './io.ts';
import {
  ACCURACY_OPTION,
  COLUMNS_OPTION,
  CRS_OPTION,
  columnOptions,
  DATES_OPTION,
  LIMIT_OPTION,
  lengthOption,
  limitOptions,
  oneOf,
  type Parsed,
  PLANTER_OPTION,
  recordOptions,
  type Spec,
  WHERE_OPTION,
} from './options.ts';
import { planterOptions, plantingOptions } from './planters.ts';

export const REBUILD_OPTIONS: Spec = {
  planter: PLANTER_OPTION,
  planting: {
    value: 'NAME',
    many: true,
    says: 'what was planted, or MACHINE=NAME for one machine; left out, the planting that fits the map is taken',
  },
  out: {
    value: 'FILE',
    says: 'where to write: .geojson, .zip (shapefile), .gpkg (GeoPackage), .fgb (FlatGeobuf) or .parquet (GeoParquet); required',
  },
  by: { value: 'NAME', says: 'section, or pass for one polygon per pass; section when left out' },
  'correct-rate': {
    value: 'recorded-area',
    says: 'multiply rates and populations by recorded area over planted area; the old values stay in columns of their own',
  },
  columns: COLUMNS_OPTION,
  dates: DATES_OPTION,
  where: WHERE_OPTION,
  crs: {
    ...CRS_OPTION,
    says: 'the coordinate system to write in, such as EPSG:4326; that of the map when left out; also used to read a map that does not name its own',
  },
  limit: LIMIT_OPTION,
  layer: { value: 'NAME', says: 'the layer to rebuild when a file holds several' },
  'pass-accuracy': ACCURACY_OPTION,
};

/** `guessrow rebuild`: 0 when written. Throws `UserError` (status 2) before anything is written. */
export async function runRebuild(args: Parsed, io: Io): Promise<number> {
  const { layer, out } = args.values;
  if (args.lists.planter === undefined)
    throw new UserError('missing-option', 'A rebuild needs a planter file.', {}, 'Add "--planter FILE".');
  if (out === undefined)
    throw new UserError('missing-option', 'A rebuild needs an output file.', {}, 'Add "--out FILE".');
  const format = extname(out).toLowerCase();
  if (!(LAYER_FORMATS as readonly string[]).includes(format))
    throw new UserError(
      'option-value',
      `The end of "${basename(out)}" names no format.`,
      {},
      `Let it end in ${LAYER_FORMATS.join(', ')}.`,
    );
  const by = oneOf(args.values.by ?? 'section', ['section', 'pass'] as const, 'by');
  const rate = args.values['correct-rate'];
  if (rate !== undefined) oneOf(rate, ['recorded-area'] as const, 'correct-rate');
  const accuracy = args.values['pass-accuracy'];
  const found = planterOptions(args.lists.planter);
  const { planter, planters, paths } = found;
  const planted = plantingOptions(args.lists.planting ?? [], found);
  const maps = mapPaths(args.positionals[0]);
  const stem = out.slice(0, -format.length);
  const [csv, json] = [`${stem}.changes.csv`, `${stem}.changes.json`];
  for (const path of [out, csv, json]) checkOutput(path, [...maps, ...paths]);

  const input: RebuildInput = {
    map: maps.map(namedFile),
    planter,
    by,
    columns: columnOptions(args.lists.columns ?? []),
    limits: limitOptions(args.lists.limit ?? []),
    ...recordOptions(args),
    ...planted,
  };
  if (planters !== undefined) input.planters = planters;
  if (rate !== undefined) input.correctRate = true;
  if (layer !== undefined) input.layer = layer;
  if (args.values.crs !== undefined) input.crs = args.values.crs;
  if (accuracy !== undefined) input.passAccuracyM = lengthOption(accuracy, 'pass-accuracy');
  const line = progressLine(io);
  let built: Rebuilt;
  try {
    built = await rebuild(input, { progress: line.show });
  } finally {
    line.end();
  }
  const notes: string[] = built.notes.map(noteText);
  const system = await systemToWrite(built, args.values.crs, format as LayerFormat, (s) => notes.push(s));
  // A map that was rebuilt before is given back byte for byte where its format stays.
  const bytes =
    built.before && maps.length === 1 && sameFormat(maps[0], format)
      ? await allBytes(maps[0])
      : await encodeLayer(inSystem(built.layer, system), format as LayerFormat, clean(basename(stem)), (s) =>
          notes.push(s),
        );
  await writeOutputs([
    [csv, changeCsv(built.changes)],
    [json, changeJson(aboutRebuilt(built, basename(args.positionals[0]), by), built.changes)],
    [out, bytes],
  ]);
  await io.out(summary(built, planter.unit, notes, [out, csv, json]));
  return 0;
}

/** The system to write in: the one that was asked for, else that of the map; null for WGS84 degrees. Throws where it was asked for and the format cannot bear it. */
async function systemToWrite(
  built: Rebuilt,
  asked: string | undefined,
  format: LayerFormat,
  note: (s: string) => void,
): Promise<System | null> {
  const own = built.system;
  const system = asked === undefined ? own : await wantedCrs(asked, 'for "--crs"');
  if (system === null || canBear(format, system, built.format === 'geojson')) return system;
  const sentence = `${format} cannot be written in the coordinate system "${clean(system.name)}"`;
  // Where the option named the system of the map, it is not meant for the output.
  if (asked !== undefined && system.code !== own?.code)
    throw new UserError(
      'crs-format',
      `${sentence}.`,
      {},
      'Write a .gpkg or a .zip, or WGS84 degrees with "--crs EPSG:4326".',
    );
  note(`${sentence}: the map was written in WGS84 degrees. A .gpkg or a .zip keeps the system of the map.`);
  return null;
}

const sameFormat = (path: string, format: string): boolean =>
  extname(path).toLowerCase() === format || (format === '.geojson' && extname(path).toLowerCase() === '.json');

async function allBytes(path: string): Promise<Uint8Array> {
  const parts: Uint8Array[] = [];
  for await (const c of namedFile(path).chunks()) parts.push(c);
  return Buffer.concat(parts);
}

/** A column with its mean before and after. */
function rateText({ name, before, after }: Rebuilt['rateMeans'][number]): string {
  const text = (v: number): string => (Number.isNaN(v) ? 'empty' : Number(v.toPrecision(5)).toLocaleString('en-US'));
  return `${clean(name)} (${text(before)} before, ${text(after)} now, on average)`;
}

/** Ground that a replant took from the earlier stand. */
function replacedText(b: Rebuilt, area: (m2: number) => string): string[] {
  const list = b.changes.filter((c) => c.done === 'replaced');
  if (list.length === 0) return [];
  const m2 = list.reduce((s, c) => s + c.inM2, 0);
  return wrap(
    `${area(m2)} in ${list.length.toLocaleString('en-US')} record${list.length === 1 ? '' : 's'} replaced: ${list[0].why}.`,
    undefined,
    '  ',
    '  ',
  );
}

/** What stayed as recorded because nothing shows where the frame was, with its area, reason by reason. */
function notRedrawn(b: Rebuilt, area: (m2: number) => string): string[] {
  if (b.before) return [];
  const by = new Map<string, { count: number; m2: number }>();
  for (const c of b.changes) {
    if (c.pass !== null && c.why !== NO_FRAME) continue;
    if (c.done !== 'kept' && c.done !== 'cut') continue;
    const e = by.get(c.why) ?? { count: 0, m2: 0 };
    e.count++;
    e.m2 += c.outM2;
    by.set(c.why, e);
  }
  return [...by].flatMap(([why, { count, m2 }]) =>
    wrap(
      `${area(m2)} in ${count.toLocaleString('en-US')} record${count === 1 ? '' : 's'} kept as recorded: ${why}.`,
      undefined,
      '  ',
      '  ',
    ),
  );
}

function summary(b: Rebuilt, unit: Unit, notes: readonly string[], files: readonly string[]): string {
  const counts = new Map<string, number>();
  for (const c of b.changes) counts.set(c.done, (counts.get(c.done) ?? 0) + 1);
  const count = (n: number): string => n.toLocaleString('en-US');
  const difference = b.outM2 - b.inM2;
  const area = (m2: number): string => areaText(m2, unit);
  const nothing = area(0);
  const lines = [
    ...wrap(
      b.before
        ? 'The map was rebuilt with this planter before: nothing to do.'
        : b.unchanged
          ? `Nothing had to be changed. ${b.report?.says ?? ''}`
          : (b.report?.says ?? ''),
    ),
    '',
    ...(b.plantingFound
      ? [...wrap(`Rebuilt as planted "${b.planting}", which fits the map best; "--planting NAME" chooses another.`), '']
      : []),
    ...[...counts].map(([k, n]) => `  ${k.padEnd(10)}${count(n).padStart(9)}`),
    '',
    `  area before  ${area(b.inM2)}`,
    `  area now     ${area(b.outM2)}  (${difference < 0 || area(difference) === nothing ? '' : '+'}${area(difference)})`,
  ];
  lines.push(...replacedText(b, area), ...notRedrawn(b, area));
  if (b.leftOverlapM2 > 0)
    lines.push(
      ...wrap(
        `Overlaps of ${area(b.leftOverlapM2) === nothing ? `less than ${nothing.replace('0', '0.001')}` : area(b.leftOverlapM2)} in all are positioning noise and were left.`,
        undefined,
        '  ',
        '  ',
      ),
    );
  if (b.ratesCorrected.length > 0)
    lines.push(
      ...wrap(
        `Corrected for the recorded area: ${b.rateMeans.map(rateText).join(', ')}. The old values are in was_NAME; no other column was corrected ("--columns rate=NAME" chooses one).`,
        undefined,
        '  ',
        '  ',
      ),
    );
  lines.push('', ...files.map((f) => `Written to ${f}`));
  if (notes.length > 0) lines.push('', 'Notes', ...notes.flatMap((n) => wrap(n, undefined, '  - ', '    ')));
  lines.push('', 'Before you act on this', ...CAUTIONS.flatMap((c) => wrap(c, undefined, '  - ', '    ')));
  return `${lines.join('\n')}\n`;
}
