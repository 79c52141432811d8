import { useState } from 'preact/hooks';
import type { Message } from '../../core/messages.ts';
import { layoutOf, planterNotes, ruleBreaks } from '../../core/planter/index.ts';
import type { Planter } from '../../core/planter/types.ts';
import { gapText, lengthText } from '../../core/report/index.ts';
import { Frame } from '../draw/frame.tsx';
import { saveFile } from '../files.ts';
import type { Sheet } from '../state/index.ts';
import { FilePick } from './filepick.tsx';
import { Kept } from './kept.tsx';
import { Part } from './part.tsx';
import { EXAMPLE, PlanterForm } from './planterform.tsx';

export function PlanterPart({ sheet }: { sheet: Sheet }) {
  const state = sheet.inputs.planter;
  const planter = state?.planter ?? null;
  const [open, setOpen] = useState(false);
  return (
    <Part
      number={2}
      id="planter"
      title="The planter"
      lead="The frame and its rows as they really are, from a planter file."
    >
      <div class="actions noprint">
        <FilePick
          id="planter-file"
          label="Open a planter file"
          accept=".json"
          open={sheet.openFiles}
          hint="A *.planter.json, or drop it anywhere on this sheet."
        />
        {!state && (
          <button type="button" class="plain" onClick={() => sheet.editPlanter(EXAMPLE)}>
            Describe a planter here
          </button>
        )}
      </div>
      <Kept sheet={sheet} />
      {state?.error && <Problem message={state.error} />}
      {planter && <Declared sheet={sheet} planter={planter} editing={open} />}
      {state && (
        <>
          <PlanterForm
            key={state.fileName}
            text={state.text}
            change={sheet.editPlanter}
            planter={planter}
            error={state.error}
            open={open}
            setOpen={setOpen}
          />
          <p class="noprint">
            <button
              type="button"
              class="plain"
              disabled={!planter}
              onClick={() => saveFile(state.fileName, state.text, 'application/json')}
            >
              Save the planter file
            </button>
          </p>
        </>
      )}
    </Part>
  );
}

function Declared({ sheet, planter, editing }: { sheet: Sheet; planter: Planter; editing: boolean }) {
  const { planting } = sheet.inputs;
  const answer = sheet.run.state === 'done' && !sheet.stale ? sheet.run.answer : null;
  const shown =
    planter.plantings.find((p) => p.name === (planting || answer?.report.declared.planting)) ?? planter.plantings[0];
  const layout = layoutOf(planter, shown.name);
  const breaks = ruleBreaks(planter);
  const notes = planterNotes(planter);
  return (
    <>
      <fieldset class="choice noprint">
        <legend>Planting</legend>
        {[
          { name: '', says: 'let the map tell' },
          ...planter.plantings.map((p) => ({ name: p.name, says: `${p.name}, ${p.rows.length} rows` })),
        ].map(({ name, says }) => (
          <label key={name}>
            <input
              type="radio"
              name="planting"
              value={name}
              checked={planting === name}
              onChange={() => sheet.choosePlanting(name)}
            />
            {says}
          </label>
        ))}
      </fieldset>
      <dl class="facts">
        <dt>Frame</dt>
        <dd>
          {planter.name}: {planter.rows} rows at {gapText(planter.rowSpacingM, planter.unit)}
        </dd>
        <dt>Planting shown</dt>
        <dd>
          {shown.name}: {layout.rows.length} rows, working width {lengthText(layout.workingWidthM, planter.unit)}
          {shown.passSpacingM !== null && <>, pass spacing {lengthText(shown.passSpacingM, planter.unit)}</>}
        </dd>
      </dl>
      <Frame planter={planter} planting={shown.name} breaks={breaks} />
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
    </>
  );
}

/** A message of the core: the sentence, where, and what to do. */
export function Problem({ message }: { message: Message }) {
  const { place } = message;
  const where = [
    place.file,
    place.record === undefined ? '' : `record ${place.record.toLocaleString('en-US')}`,
    place.key,
  ]
    .filter((s) => s)
    .join(', ');
  return (
    <div class="problem" role="alert">
      <p>
        <b>{message.sentence}</b>
      </p>
      <p>
        {where && (
          <>
            <span class="label">Where</span> <span class="file">{where}</span>
            <br />
          </>
        )}
        <span class="label">What to do</span> {message.todo}
      </p>
    </div>
  );
}
