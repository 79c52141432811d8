import type { Role } from '../core/answer.ts';
import { commandLine as written } from '../core/report/index.ts';

/** What one run of the page was given. */
export interface RunInput {
  mapNames: string[];
  /** Files of the map from before a fix; none for a plain check. */
  beforeNames: string[];
  boundaryNames: string[];
  planterName: string;
  /** Machines that have their own planter. */
  machines: { machine: string; planterName: string; planting: string }[];
  planting: string;
  columns: Partial<Record<Role, string>>;
  layer: string;
  crs: string;
  dates: string;
  /** Records that are used, "Field=North"; empty for all. */
  where: string;
  /** As it was written, "95/ac"; empty for none. */
  seedCost: string;
}

/**
 * The command line that gives the same answer. Loose parts of a shapefile are named by their .shp; the command line finds
 * its neighbors itself.
 */
export function commandLine(run: RunInput): string {
  const before = mainName(run.beforeNames);
  const planter = [run.planterName, ...run.machines.map((m) => `${m.machine}=${m.planterName}`)];
  const planting = [run.planting, ...run.machines.flatMap((m) => (m.planting ? [`${m.machine}=${m.planting}`] : []))];
  if (before) {
    const { layer, crs, dates, where } = run;
    const map = mainName(run.mapNames);
    return written({ before, map, planter, planting, layer, crs, dates, where: where ? [where] : [] });
  }
  return written({
    map: mainName(run.mapNames),
    planter,
    planting,
    boundary: mainName(run.boundaryNames),
    columns: run.columns,
    layer: run.layer,
    crs: run.crs,
    dates: run.dates,
    where: run.where ? [run.where] : [],
    seedCost: run.seedCost,
  });
}

function mainName(names: readonly string[]): string {
  return names.find((n) => /\.shp$/i.test(n)) ?? names[0] ?? '';
}
