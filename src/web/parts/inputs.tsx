import type { ComponentChildren } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import { layoutOf } from '../../core/planter/index.ts';
import { countText, lengthText } from '../../core/report/index.ts';
import { isGuess, type Sheet, shown } from '../state/index.ts';
import { MapInput, MapRead } from './map.tsx';
import { PlanterInput } from './planter.tsx';
import { PlantingChoice } from './planting.tsx';

/** The inputs of the answer, folded to one line each and editable in place. */
export function InputLines({ sheet }: { sheet: Sheet }) {
  const { inputs, run } = sheet;
  const done = shown(run);
  const looked = run.state === 'looked' ? run : null;
  const map = (done ?? looked)?.answer.report.map;
  const planter = inputs.planter?.planter ?? null;
  const several = (planter?.plantings.length ?? 0) > 1;
  const planting =
    inputs.planting || (inputs.unsure ? 'not known' : several ? 'not said yet' : (planter?.plantings[0].name ?? ''));
  const layout = planter?.plantings.find((p) => p.name === planting) ? layoutOf(planter, planting) : null;
  return (
    <section class="inputs" aria-label="What is checked">
      <Unused sheet={sheet} />
      <div class="lines">
        <Line
          id="map"
          name="Map"
          says={
            <>
              <b class="file">{inputs.map.map((f) => f.name).join(', ')}</b>
              {map && `, ${countText(map.records, 'record')}, ${countText(map.passes, 'pass', 'passes')}`}
              {inputs.before.length > 0 && ', compared with the map from before'}
              {inputs.boundary.length > 0 && ', with a boundary'}
            </>
          }
        >
          <MapInput sheet={sheet} />
          <MapRead sheet={sheet} />
        </Line>
        <Line
          id="planter"
          name="Planter"
          answered={done !== null}
          wanted={
            inputs.planter !== null &&
            (inputs.planter.error !== null ||
              inputs.machines.some((m) => m.planter.error !== null) ||
              (inputs.planter.from === 'form' && run.state === 'looked'))
          }
          says={
            planter ? (
              <>
                <b>{planter.name}</b>
                {inputs.kept.includes('planter') && ' (from the previous map)'}
                {isGuess(inputs.planter) && ' (guessed from the map)'}
                {inputs.machines.map((m) => (
                  <span key={m.machine}>
                    ; of {m.machine}: <b>{m.planter.planter?.name ?? m.planter.fileName}</b>
                  </span>
                ))}
              </>
            ) : (
              (inputs.planter?.fileName ?? 'not given')
            )
          }
        >
          <PlanterInput sheet={sheet} />
        </Line>
        {planter && (
          <Line
            id="planting"
            name="Planted"
            says={
              <>
                <b>{planting}</b>
                {inputs.kept.includes('planting') && ' (from the previous map)'}
                {layout && `, ${layout.rows.length} rows over ${lengthText(layout.workingWidthM, planter.unit)}`}
              </>
            }
          >
            <PlantingChoice sheet={sheet} planter={planter} />
          </Line>
        )}
      </div>
    </section>
  );
}

/** Opens a line from elsewhere on the sheet, and moves the focus there. */
export function showLine(id: 'map' | 'planter' | 'planting'): void {
  const line = document.getElementById(id);
  if (!(line instanceof HTMLDetailsElement)) return;
  line.open = true;
  line.scrollIntoView({ block: 'start' });
  line.querySelector('summary')?.focus({ preventScroll: true });
}

interface LineProps {
  id: string;
  name: string;
  says: ComponentChildren;
  /** Something in it needs correction, so it opens automatically. */
  wanted?: boolean;
  /** The first answer folds it: the answer comes first. */
  answered?: boolean;
  children: ComponentChildren;
}

function Line({ id, name, says, wanted = false, answered = false, children }: LineProps) {
  const [open, setOpen] = useState(wanted);
  useEffect(() => {
    if (wanted) setOpen(true);
  }, [wanted]);
  useEffect(() => {
    if (answered && !wanted) setOpen(false);
  }, [answered]);
  return (
    <details class="line" id={id} open={open} onToggle={(e) => setOpen(e.currentTarget.open)}>
      <summary>
        <span class="label">{name}</span> <span class="linesays">{says}</span>{' '}
        <span class="change noprint">change</span>
      </summary>
      <div class="linebody">{children}</div>
    </details>
  );
}

/** Unused files, and checks that were cut off. */
export function Unused({ sheet }: { sheet: Sheet }) {
  return (
    <>
      <div role="status">
        {sheet.unused.map((says) => (
          <p class="note" key={says}>
            {says}
          </p>
        ))}
      </div>
      {sheet.interrupted && (
        <p class="note" role="status">
          The page was closed while <b class="file">{sheet.interrupted}</b> was being checked, and nothing was kept of
          that check. Open the map again; its planter is still there.
        </p>
      )}
    </>
  );
}
