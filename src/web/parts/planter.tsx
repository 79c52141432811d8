import { useEffect, useRef, useState } from 'preact/hooks';
import { layoutOf, planterNotes, ruleBreaks } from '../../core/planter/index.ts';
import type { Planter } from '../../core/planter/types.ts';
import { Frame } from '../../core/report/draw/index.ts';
import { gapText, lengthText } from '../../core/report/index.ts';
import { Fitted } from '../draw/fitted.tsx';
import { saveFile } from '../files.ts';
import type { Sheet } from '../state/index.ts';
import { FilePick } from './filepick.tsx';
import { Kept } from './kept.tsx';
import { MachinePlanters } from './machines.tsx';
import { EXAMPLE, hasField, PlanterForm } from './planterform.tsx';
import { Problem } from './problem.tsx';

/** The planter: from a file, stored, or described here. */
export function PlanterInput({ sheet }: { sheet: Sheet }) {
  const state = sheet.inputs.planter;
  const planter = state?.planter ?? null;
  const [open, setOpen] = useState(state?.from === 'form');
  // A proposal that is to be changed first opens the form from elsewhere on the sheet.
  useEffect(() => {
    if (state?.from === 'form') setOpen(true);
  }, [state?.from]);
  // An edited planter is "from the form". Its form keeps its identity, or the first keystroke would take the focus away.
  const opened = useRef('');
  if (state && state.from !== 'form') opened.current = state.fileName;
  // While a field is being corrected, the drawing stays as it was: it would otherwise come and go under the reader's hands.
  const last = useRef<{ of: string; planter: Planter } | null>(null);
  if (planter) last.current = { of: opened.current, planter };
  const drawn =
    planter ?? (state?.from === 'form' && last.current?.of === opened.current ? last.current.planter : null);
  const describe = (text: string): void => {
    setOpen(true);
    sheet.editPlanter(text);
  };
  return (
    <>
      <FilePick
        id="planter-file"
        label={state ? 'Open another planter file' : 'Open a planter file'}
        accept=".json"
        open={sheet.openFiles}
        hint="A *.planter.json, or drop it anywhere on this sheet."
      />
      <div class="actions noprint">
        {!state && (
          <button type="button" class="plain" onClick={() => describe(EXAMPLE)}>
            Describe a planter here
          </button>
        )}
        {!state && sheet.draft && (
          <button type="button" class="plain" onClick={() => describe(sheet.draft?.text ?? EXAMPLE)}>
            Go on with “{sheet.draft.name}”, as you left it
          </button>
        )}
        {state && (
          <>
            <button
              type="button"
              class="plain"
              disabled={!planter}
              onClick={() => saveFile(state.fileName, state.text, 'application/json')}
            >
              Save the planter file
            </button>
            <button type="button" class="quietbutton" onClick={sheet.dropPlanter}>
              Remove
            </button>
          </>
        )}
      </div>
      <Kept sheet={sheet} />
      {state?.error && !(open && hasField(state.error)) && <Problem message={state.error} />}
      {drawn && <Declared sheet={sheet} planter={drawn} editing={open} old={planter === null} />}
      {state && (
        <PlanterForm
          key={opened.current}
          text={state.text}
          change={sheet.editPlanter}
          planter={planter}
          error={state.error}
          open={open}
          setOpen={setOpen}
        />
      )}
      {planter && <MachinePlanters sheet={sheet} planter={planter} />}
    </>
  );
}

interface DeclaredProps {
  sheet: Sheet;
  planter: Planter;
  /** The form is open, which shows broken rules at its fields. */
  editing: boolean;
  /** A field has been changed since to something that cannot be read. */
  old: boolean;
}

function Declared({ sheet, planter, editing, old }: DeclaredProps) {
  const { planting } = sheet.inputs;
  const answer = sheet.run.state === 'done' && !sheet.stale ? sheet.run.answer : null;
  const [looked, setLooked] = useState('');
  const name = looked || planting || answer?.report.declared.planting;
  const shown = planter.plantings.find((p) => p.name === name) ?? planter.plantings[0];
  const layout = layoutOf(planter, shown.name);
  const breaks = ruleBreaks(planter);
  const notes = planterNotes(planter);
  return (
    <div class={editing ? 'declared beside' : 'declared'}>
      {old && (
        <p class="note" role="status">
          Drawn as it was before the field that is marked below.
        </p>
      )}
      <p>
        <b>{planter.name}</b>: {planter.rows} rows at {gapText(planter.rowSpacingM, planter.unit)}. Planted{' '}
        {planter.plantings.length > 1 ? (
          <select
            class="inline noprint"
            aria-label="Planting in the drawing"
            value={shown.name}
            onChange={(e) => setLooked(e.currentTarget.value)}
          >
            {planter.plantings.map((p) => (
              <option key={p.name} value={p.name}>
                {p.name}
              </option>
            ))}
          </select>
        ) : (
          shown.name
        )}
        : {layout.rows.length} rows, working width {lengthText(layout.workingWidthM, planter.unit)}
        {shown.passSpacingM !== null && <>, pass spacing {lengthText(shown.passSpacingM, planter.unit)}</>}.
      </p>
      <Fitted>{(width) => <Frame planter={planter} planting={shown.name} breaks={breaks} width={width} />}</Fitted>
      {breaks.length > 0 && (
        <ul class={editing ? 'marks printonly' : 'marks'} aria-label="Layout rules that the planter breaks">
          {breaks.map((b) => (
            <li key={b.says}>
              <b>{b.says}</b> {b.todo}
            </li>
          ))}
        </ul>
      )}
      {notes.map((n) => (
        <p class="note" key={n.sentence}>
          {n.sentence} {n.todo}
        </p>
      ))}
    </div>
  );
}
