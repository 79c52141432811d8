import { useMemo } from 'preact/hooks';
import type { Answer } from '../../core/answer.ts';
import type { RebuiltMap } from '../../worker/api.ts';
import { changeAt } from '../../worker/changes.ts';
import { FieldMap } from '../map/fieldmap.tsx';
import type { Field, Look } from '../map/fieldview.ts';

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
export function RebuildMap({ built, answer }: { built: RebuiltMap; answer: Answer }) {
  const { evidence, planter } = answer;
  const { lattice, records, redrawn, change } = built.drawn;
  const field = useMemo<Field>(
    () => ({
      lattice,
      records,
      answer: null,
      signs: [],
      boundary: null,
      unit: planter.unit,
      title: 'Map of what would change',
      changes: {
        before: { lattice: evidence.lattice, records: evidence.records },
        redrawn,
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
      readout={(record) => {
        const { output, from, done, why } = changeAt(built.changes, change[record]);
        return (
          <>
            <b>Record {output?.toLocaleString('en-US')}</b> of the rebuilt map, from{' '}
            {from === '' ? 'no record' : `record ${from}`}: {done}, {why}
          </>
        );
      }}
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
