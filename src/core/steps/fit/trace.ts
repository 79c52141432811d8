import type { RecordSet } from '../../intake/types.ts';
import { extentOf, finerLattice, planeFor } from '../../plane/index.ts';
import { findColumns } from '../../track/columns/index.ts';
import { findPasses, traceLanes } from '../../track/index.ts';
import { findOrigins } from '../../track/origins.ts';
import type { Job } from '../job.ts';
import type { Track } from './types.ts';

/** Passes, columns and machines of a map. */
export function traceRecords(records: RecordSet, { columns: named, dates, progress }: Job): Track {
  const { shapes, lattice } = records;
  const extent = extentOf(shapes);
  const plane = planeFor(lattice, extent);
  const fine = finerLattice(lattice, extent);
  progress('finding passes', 0);
  const laid = traceLanes(shapes, plane, fine, records.columns);
  progress('finding passes', 0.6);
  const choices = {
    columns: named,
    ...(dates ? { dates } : {}),
    source: records.source,
  };
  const columns = findColumns(records.columns, laid.lanes, choices, records.recordNumber);
  const passes = findPasses(laid.lanes, columns);
  const origins = findOrigins(passes, columns);
  progress('finding passes', 1);
  return { plane, fine, laid, columns, passes, origins };
}
