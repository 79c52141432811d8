import type { Report } from '../../core/answer.ts';
import type { Planter } from '../../core/planter/types.ts';
import { headline, verdictSentence } from '../../core/report/index.ts';
import type { Message } from '../../core/shared/messages.ts';
import type { Failure } from '../checker.ts';
import { type Inputs, isGuess, isOld, needsPlanting, type Run, type Sheet } from '../state/index.ts';
import { Dates } from './dates.tsx';
import { FileButton } from './filepick.tsx';
import { FixStamp } from './fix.tsx';
import { CHANGED, onPageWords, VERDICT_WORD } from './labels.ts';
import { MAP_ENDINGS } from './map.tsx';
import { MapWithoutPlanter } from './map-only.tsx';
import { PlantingQuestion } from './planting.tsx';
import { Problem } from './problem.tsx';
import { Sign } from './sign.tsx';
import { WhosePlanter } from './whose.tsx';

/** The top of an answer: the verdict with its cause, or what is still missing. */
export function VerdictPart({ sheet }: { sheet: Sheet }) {
  const { run, inputs } = sheet;
  const planter = inputs.planter?.planter ?? null;
  const asked = planter && needsPlanting(inputs) && run.state !== 'failed' ? planter : null;
  const ready = inputs.map.length > 0 && planter;
  const changed = isOld(sheet);
  return (
    <section class="part top" id="verdict" aria-labelledby="verdict-title">
      <h2 id="verdict-title" class="unseen">
        The verdict
      </h2>
      {asked && <PlantingQuestion sheet={sheet} planter={asked} />}
      <div role="status" aria-live="polite">
        {run.state === 'done' &&
          !asked &&
          (run.fix ? (
            <FixStamp comparison={run.fix.comparison} />
          ) : (
            <Stamp report={run.answer.report} planter={run.answer.planter} sheet={sheet} />
          ))}
        {run.state === 'idle' && <p class="waiting">{waitingFor(sheet)}</p>}
        {run.state === 'running' && !asked && <p class="waiting">{WORKING[run.job.kind]}</p>}
      </div>
      {run.state === 'running' && <Progress stage={run.stage} done={run.done} cancel={sheet.cancel} />}
      {run.state === 'failed' && <Failed failure={run.failure} sheet={sheet} />}
      {run.state === 'looked' && <MapWithoutPlanter look={run} sheet={sheet} />}
      {(changed || (ready && waits(run))) && (
        <p class={changed ? 'again' : 'again noprint'}>
          {ready && (
            <button type="button" class="button noprint" onClick={sheet.check}>
              {changed ? 'Check again' : 'Check the map'}
            </button>
          )}{' '}
          {changed && CHANGED}
          {changed && !ready && <span class="noprint"> It has to be put right before it can be checked.</span>}
        </p>
      )}
      {ready && !asked && run.state === 'done' && (
        <WhosePlanter sheet={sheet} planter={planter} report={run.answer.report} />
      )}
    </section>
  );
}

const WORKING = {
  check: 'The check is running.',
  look: 'The map is being read.',
  fetch: 'The sample is being fetched.',
  field: 'The fields are being checked.',
};

/** Nothing is being checked, nothing was, and a check needs no more than a press of the button. */
function waits(run: Run): boolean {
  return run.state === 'idle' || run.state === 'failed' || run.state === 'looked';
}

function waitingFor({ inputs }: Sheet): string {
  if (inputs.planter && !inputs.planter.planter) return 'Correct the planter first; see its line below.';
  return 'Ready to check.';
}

function Stamp({ report, planter, sheet }: { report: Report; planter: Planter; sheet: Sheet }) {
  const open = report.ifPlanted.length > 0 && report.verdict === 'undecided';
  const { cause, did, also } = headline(report, planter.unit);
  // A map always fits a planter that was made from it.
  const itself = report.verdict === 'agrees' && isGuess(sheet.inputs.planter);
  return (
    <>
      <div class={`stamp ${itself ? 'undecided' : report.verdict}`}>
        <span class="word">
          <Sign verdict={itself ? 'undecided' : report.verdict} />
          {itself ? 'Agrees with itself' : VERDICT_WORD[report.verdict]}
        </span>
        <div class="says">
          <p class="cause">
            {open
              ? 'The verdict depends on what was planted.'
              : itself
                ? 'The map fits the planter that was guessed from it. Whether it fits the machine is not known yet.'
                : cause}
          </p>
          {did.length > 0 && <p class="did">{did.join(' ')}</p>}
          {also.length > 0 && <p class="also">Also to look at: {also.join('; ')}.</p>}
        </div>
      </div>
      {report.ifPlanted.length > 0 && <IfPlanted report={report} choose={sheet.choosePlanting} />}
    </>
  );
}

/** The answer for each planting, where the planting is not known. */
function IfPlanted({ report, choose }: { report: Report; choose(name: string): void }) {
  return (
    <ul class="ifplanted" aria-label="The answer for each planting">
      {report.ifPlanted.map((p) => (
        <li key={p.planting} class={p.verdict}>
          <p>
            <b>
              If {p.planting} was planted: {VERDICT_WORD[p.verdict]}.
            </b>{' '}
            {verdictSentence({ ...report, says: p.says })}
          </p>
          <button type="button" class="quietbutton noprint" onClick={() => choose(p.planting)}>
            It was {p.planting}
          </button>
        </li>
      ))}
    </ul>
  );
}

function Progress({ stage, done, cancel }: { stage: string; done: number; cancel(): void }) {
  return (
    <div class="progress noprint">
      <label for="progress">{stage}</label>
      <progress id="progress" max={1} value={done} />
      <button type="button" class="plain" onClick={cancel}>
        Cancel
      </button>
    </div>
  );
}

/** Inputs with which a refused map can be checked. */
type Answerable = 'layer' | 'system' | 'dates';

const ASKED: Readonly<Record<string, Answerable>> = {
  'several-layers': 'layer',
  'layer-not-found': 'layer',
  'crs-unknown': 'system',
  'crs-option': 'system',
  'dates-open': 'dates',
  'dates-order': 'dates',
};

/** A message reworded for the page, and the input that it asks for. A boundary has no layer to choose. */
function onPage(
  { todo, ...detail }: Message,
  { map, before, boundary }: Inputs,
): { message: Message; asks: Answerable | null } {
  const asks = Object.hasOwn(ASKED, detail.code) ? ASKED[detail.code] : todo.includes('"--crs ') ? 'system' : null;
  if (asks !== 'layer') return { message: { ...detail, todo: onPageWords(todo) }, asks };
  const isIn = (files: readonly File[]): boolean => files.some((f) => f.name === detail.place.file);
  const layer = isIn(map) || isIn(before) || !isIn(boundary);
  const says = layer ? 'Write the name of one of them below.' : 'Give the boundary as a file with one layer.';
  return { message: { ...detail, todo: says }, asks: layer ? 'layer' : null };
}

export function Failed({ failure, sheet }: { failure: Failure; sheet: Sheet }) {
  if (failure.kind === 'notice')
    return (
      <div class="problem" role="alert">
        <p>{failure.text}</p>
      </div>
    );
  if (failure.kind === 'cancelled') {
    return <p role="alert">The check was cancelled. Nothing was kept of it.</p>;
  }
  if (failure.kind === 'refused') {
    const { message, asks } = onPage(failure.detail, sheet.inputs);
    return (
      <>
        <Problem message={message} />
        {asks === 'layer' && (
          <Ask
            label="Layer to check"
            button="Check this layer"
            value={sheet.inputs.layer}
            take={(name) => sheet.chooseLayer(name)}
          />
        )}
        {asks === 'system' && (
          <Ask
            label="Coordinate system of the map, such as EPSG:32615"
            button="Read the map in this system"
            value={sheet.inputs.crs}
            take={(name) => sheet.chooseSystem(/^\d+$/.test(name) ? `EPSG:${name}` : name)}
          />
        )}
        {asks === 'dates' && <Dates sheet={sheet} />}
        {asks === null && sheet.inputs.map.some((f) => f.name === message.place.file) && (
          <p class="again noprint">
            <FileButton
              id="other-map-files"
              label="Open another map"
              accept={MAP_ENDINGS}
              multiple
              open={sheet.openFiles}
            />
          </p>
        )}
      </>
    );
  }
  return (
    <div class="problem" role="alert">
      <p>
        <b>
          {failure.kind === 'memory'
            ? 'The browser ran out of memory during the check.'
            : 'The check stopped on a fault of this program, not of your map.'}
        </b>
      </p>
      <p>
        {failure.kind === 'memory'
          ? 'Close other tabs and check again, or check this map with the command line, which may use more memory.'
          : `Keep the map and report this line: ${failure.text}`}
      </p>
    </div>
  );
}

function Ask(props: { label: string; button: string; value: string; take(value: string): void }) {
  return (
    <form
      class="propose"
      onSubmit={(e) => {
        e.preventDefault();
        props.take(String(new FormData(e.currentTarget).get('value') ?? '').trim());
      }}
    >
      <label>
        {props.label}
        <input name="value" defaultValue={props.value} />
      </label>
      <button type="submit" class="plain">
        {props.button}
      </button>
    </form>
  );
}
