import { useMemo } from 'preact/hooks';
import type { Answer } from '../../core/answer.ts';
import type { Layer } from '../../core/formats/index.ts';
import type { Lattice, Shapes } from '../../core/geometry/shapes.ts';
import type { Rebuilt } from '../../core/rebuild/index.ts';
import { FieldMap } from '../map/fieldmap.tsx';
import type { Field, Look } from '../map/fieldview.ts';

/** Parts of a degree in which a rebuilt map is drawn: a millimeter. */
const STEPS = 1e8;

const LOOK: Look = {
  layers: {
    picture: 'recorded',
    split: 0.5,
    hidden: new Set(),
    seams: false,
    passes: false,
    lettered: new Set(),
  },
  marked: { passes: new Set(), seams: new Set(), sections: new Set() },
  background: null,
};

/** The rebuilt map over the one that was opened, before anything is saved. */
export function RebuildMap({ built, answer }: { built: Rebuilt; answer: Answer }) {
  const { evidence, planter } = answer;
  const of = useMemo(() => built.changes.filter((c) => c.output !== null), [built]);
  const field = useMemo<Field>(
    () => ({
      ...recordsOf(built.layer),
      answer: null,
      signs: [],
      boundary: null,
      unit: planter.unit,
      title: 'Map of what would change',
      changes: {
        before: { lattice: evidence.lattice, records: evidence.records },
        redrawn: Uint8Array.from(of, (c) => (c.done === 'kept' ? 0 : 1)),
      },
    }),
    [built, evidence],
  );
  return (
    <FieldMap
      field={field}
      look={LOOK}
      choose={() => {}}
      chooseSeam={() => {}}
      scaled={() => {}}
      centered={() => {}}
      moveSplit={() => {}}
      readout={(record) => (
        <>
          <b>Record {of[record].output?.toLocaleString('en-US')}</b> of the rebuilt map, from{' '}
          {of[record].from === '' ? 'no record' : of[record].from}: {of[record].done}, {of[record].why}
        </>
      )}
    >
      <section class="legend" aria-label="Colors of what would change">
        <ul class="changes">
          <li class="same">kept as recorded</li>
          <li class="redrawn">redrawn</li>
          <li class="added">ground added</li>
          <li class="taken">ground taken away</li>
        </ul>
      </section>
    </FieldMap>
  );
}

/** The records of a layer in degrees, on a lattice of their own. */
function recordsOf({ lonLat, ringStart, polygonStart, recordStart }: Layer): { lattice: Lattice; records: Shapes } {
  const [originX, originY] = [Math.round((lonLat[0] ?? 0) * STEPS), Math.round((lonLat[1] ?? 0) * STEPS)];
  const xy = Int32Array.from(lonLat, (v, i) => Math.round(v * STEPS) - (i % 2 === 0 ? originX : originY));
  const shapeStart = Uint32Array.from(recordStart, (polygon) => polygonStart[polygon]);
  return { lattice: { originX, originY, stepsPerDegree: STEPS }, records: { xy, ringStart, shapeStart } };
}
