/** Each map to check, with the planter files and settings that an option or a row of a list gives it. */
import { basename, dirname, resolve } from 'node:path';
import { parseWhere, type Where } from '../core/intake/index.ts';
import { readText } from '../files.ts';
import { kindOf } from './folder.ts';
import { readList } from './list.ts';
import type { MapsFrom } from './source.ts';
import type { Settings } from './types.ts';

export interface Wanted {
  /** Maps, folders, patterns with * and ?, and lists (.csv), as the user gave them. */
  paths: readonly string[];
  /** Planter files for every field that the list names none for, each "FILE" or "MACHINE=FILE". */
  planters: readonly string[];
  settings: Settings;
  /** How long the check of a field may take. */
  seconds: number;
  /** Where workers read maps; null when they are read here, by their own paths. */
  from: MapsFrom | null;
  /** The output folder: nothing in it is a map. */
  out: string;
}

/** A planter file, absolute, and its machine. */
export interface PlanterFile {
  path: string;
  machine?: string;
}

export interface Item {
  /** Where it lies, absolute; below an address the name in the list. */
  at: string;
  planters: PlanterFile[];
  settings: Settings;
  boundary: string | null;
  machine: string | null;
}

/** A map that an option or a folder names. */
export function plainItem(at: string, wanted: Wanted): Item {
  return {
    at,
    planters: planterFiles(wanted.planters, '.'),
    settings: wanted.settings,
    boundary: null,
    machine: null,
  };
}

/** The maps that a list names, one per row. */
export function listedItems(path: string, wanted: Wanted): Item[] {
  const here = dirname(resolve(path));
  const at = (cell: string): string => (wanted.from?.url ? cell : resolve(here, cell));
  return readList(readText(path, 'list', 100_000_000), basename(path)).map((row) => ({
    at: at(row.map),
    planters:
      row.planter === undefined ? planterFiles(wanted.planters, '.') : planterFiles(row.planter.split(/\s*;\s*/), here),
    settings: {
      ...wanted.settings,
      ...(row.planting === undefined ? {} : plantingCell(row.planting)),
      ...(row.layer === undefined ? {} : { layer: row.layer }),
      ...(row.crs === undefined ? {} : { crs: row.crs }),
      ...(row.where === undefined ? {} : { where: conditions(row.where) }),
    },
    boundary: row.boundary === undefined ? null : at(row.boundary),
    machine: row.machine ?? null,
  }));
}

/** "FILE" or "MACHINE=FILE" each, from `folder` on. */
function planterFiles(cells: readonly string[], folder: string): PlanterFile[] {
  return cells.map((cell) => {
    const at = cell.indexOf('=');
    if (at < 1 || kindOf(resolve(folder, cell)) === 'file') return { path: resolve(folder, cell) };
    return { machine: cell.slice(0, at).trim(), path: resolve(folder, cell.slice(at + 1).trim()) };
  });
}

/** "narrow", or "North 2=narrow; 2026-04-22=wide" by machine or day. */
function plantingCell(cell: string): Pick<Settings, 'planting' | 'plantings'> {
  if (!cell.includes('=')) return { planting: cell };
  const out: { planting?: string; plantings: Record<string, string> } = { plantings: {} };
  for (const part of cell.split(/\s*;\s*/)) {
    const at = part.indexOf('=');
    if (at < 1) out.planting = part;
    else out.plantings[part.slice(0, at).trim()] = part.slice(at + 1).trim();
  }
  return out;
}

/** "Field=North; Machine=2" as conditions. */
function conditions(cell: string): Where[] {
  return cell.split(/;\s*(?=[^=;]+=)/).map((text) => parseWhere(text, 'in the column "where" of the list'));
}
