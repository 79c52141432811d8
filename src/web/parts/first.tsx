import { useMemo } from 'preact/hooks';
import type { Unit } from '../../core/planter/types.ts';
import type { FirstPicture } from '../../worker/api.ts';
import { FieldMap } from '../map/fieldmap.tsx';
import type { Field, Look } from '../map/fieldview.ts';
import { NO_MARKS } from '../selection.ts';

const LOOK: Look = {
  layers: { picture: 'recorded', split: 0.5, hidden: new Set(), seams: false, passes: false },
  marked: NO_MARKS,
  background: null,
};

/** The map as read, while it is being checked. */
export function FirstPart({ picture, unit }: { picture: FirstPicture; unit: Unit }) {
  const field = useMemo<Field>(() => ({ ...picture, answer: null, signs: [], boundary: null, unit }), [picture, unit]);
  return (
    <section class="part field" id="first" aria-label="The map as read">
      <FieldMap
        field={field}
        look={LOOK}
        choose={() => {}}
        chooseSeam={() => {}}
        scaled={() => {}}
        moveSplit={() => {}}
        readout={() => null}
      />
      <p class="explain">The map as read. It is being checked.</p>
    </section>
  );
}
