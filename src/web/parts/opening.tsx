import { useEffect, useState } from 'preact/hooks';
import { outOfReach, type Sample } from '../samples.ts';
import type { Sheet } from '../state/index.ts';
import { FilePick } from './filepick.tsx';
import { Unused } from './inputs.tsx';
import { MAP_ENDINGS, MapInput } from './map.tsx';
import { PlanterInput } from './planter.tsx';
import { Failed } from './verdict.tsx';

/** Before any map: what the page does, its two inputs, and sample fields. */
export function Opening({ sheet }: { sheet: Sheet }) {
  const { run } = sheet;
  return (
    <>
      <p class="promise">
        Open the map that your planter recorded. You get the setting that was wrong, since when, and what it did to the
        field.
      </p>
      {run.state === 'failed' && <Failed failure={run.failure} sheet={sheet} />}
      <Unused sheet={sheet} />
      <div class="panels">
        <section class="panel" id="map" aria-labelledby="map-title">
          <h2 id="map-title">The map</h2>
          <MapInput sheet={sheet} />
          <p class="quiet">You can start with just the map. Several at once, or a folder, become a list.</p>
        </section>
        <section class="panel" id="planter" aria-labelledby="planter-title">
          <h2 id="planter-title">The planter</h2>
          <PlanterInput sheet={sheet} />
        </section>
      </div>
      <Samples sheet={sheet} />
      <ConfirmFix sheet={sheet} />
    </>
  );
}

/** Shown before "more": one that differs, one that agrees, one whose record is right and whose passes lie apart. */
const FIRST = ['narrow-as-wide', 'healthy-field', 'other-pass-spacing'];

function Samples({ sheet }: { sheet: Sheet }) {
  const { samples } = sheet;
  const missing = useOutOfReach(samples);
  if (samples.length === 0)
    return <p class="quiet">No sample fields are available. You can still open your own map.</p>;
  const pairs = samples.flatMap((after) => {
    const before = samples.find((b) => b.id === after.id.replace(/-after$/, '-before') && b !== after);
    return before ? [[before, after] as const] : [];
  });
  const first = FIRST.flatMap((id) => samples.filter((s) => s.id === id));
  const shown = first.length > 0 ? first : samples.slice(0, 3);
  const others = samples.filter((s) => !shown.includes(s));
  const button = ({ id, title, about }: Sample) => (
    <SampleButton key={id} title={title} about={about} missing={missing.has(id)} open={() => sheet.openSample(id)} />
  );
  return (
    <section class="trying" aria-labelledby="trying-title">
      <h2 id="trying-title">Or try a sample field</h2>
      <p role="status" class={missing.size > 0 ? 'note' : ''}>
        {missing.size > 0 &&
          'The page cannot reach its server. Samples marked “not stored” were not opened here before and have to wait; a map of your own never does.'}
      </p>
      <div class="trybuttons">{shown.map(button)}</div>
      <details class="samples">
        <summary>
          <span>More samples ({others.length + pairs.length})</span>
        </summary>
        <div class="trybuttons">
          {others.map(button)}
          {pairs.map(([before, after]) => (
            <SampleButton
              key={`${before.id} ${after.id}`}
              title={`${after.title.replace(/,? after$/, '')}: before and after on one sheet`}
              about="Was it fixed? The two maps side by side, with one verdict."
              missing={missing.has(before.id) || missing.has(after.id)}
              open={() => sheet.openSample(after.id, before.id)}
            />
          ))}
        </div>
      </details>
    </section>
  );
}

interface SampleButtonProps {
  title: string;
  about: string;
  /** It cannot be opened now. */
  missing: boolean;
  open(): void;
}

function SampleButton({ title, about, missing, open }: SampleButtonProps) {
  return (
    <button type="button" class="sample" disabled={missing} onClick={open}>
      <b>{title}</b>
      {missing && <span class="missing">not stored</span>}
      {about && <span>{about}</span>}
    </button>
  );
}

/** The samples that cannot be opened, looked up again when the network comes or goes. */
function useOutOfReach(samples: readonly Sample[]): ReadonlySet<string> {
  const [missing, setMissing] = useState<ReadonlySet<string>>(new Set());
  useEffect(() => {
    let gone = false;
    const look = (): void => {
      void outOfReach(samples).then((found) => {
        if (!gone) setMissing(found);
      });
    };
    look();
    addEventListener('online', look);
    addEventListener('offline', look);
    addEventListener('focus', look);
    return () => {
      gone = true;
      removeEventListener('online', look);
      removeEventListener('offline', look);
      removeEventListener('focus', look);
    };
  }, [samples]);
  return missing;
}

/** A separate entry: was it fixed? */
function ConfirmFix({ sheet }: { sheet: Sheet }) {
  const [before, setBefore] = useState<readonly File[]>(sheet.inputs.before);
  return (
    <section class="trying" aria-labelledby="fix-title">
      <h2 id="fix-title">Confirm a fix</h2>
      <p>
        A setting was changed? Open the map from before, then a short strip driven after. The sheet says whether it is
        fixed.
      </p>
      <div class="panels">
        <div>
          <FilePick
            id="fix-before"
            label="1. The map from before"
            accept={MAP_ENDINGS}
            multiple
            open={async (files) => {
              setBefore(files);
              sheet.chooseBefore(files);
            }}
            hint={
              before.length > 0 ? `Given: ${before.map((f) => f.name).join(', ')}` : 'Recorded with the old setting.'
            }
          />
        </div>
        <div>
          <FilePick
            id="fix-after"
            label="2. The map after"
            accept={MAP_ENDINGS}
            multiple
            open={sheet.openFiles}
            hint={before.length > 0 ? 'The two are then compared.' : 'Open the map from before first.'}
          />
        </div>
      </div>
    </section>
  );
}
