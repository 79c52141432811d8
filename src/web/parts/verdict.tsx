import { Fragment } from 'preact';
import { useState } from 'preact/hooks';
import type { Answer, Diagnosis, Report } from '../../core/answer.ts';
import type { Message } from '../../core/messages.ts';
import {
  becauseLines,
  confidenceText,
  EXPLANATION_PARTS,
  EXPLANATIONS,
  effectLines,
  MACHINE_HEAD,
  machineRows,
  NO_EFFECT,
  noteText,
  SETTING_TITLE,
  verdictSentence,
} from '../../core/report/index.ts';
import { mapName, mapsOf } from '../files.ts';
import type { Choice } from '../selection.ts';
import { type Inputs, isOld, type Run, type Sheet, severalMaps } from '../state/index.ts';
import { AccountList } from './account.tsx';
import { Fix, FixStamp } from './fix.tsx';
import { Part } from './part.tsx';
import { Problem } from './planter.tsx';
import { Scroll } from './scroll.tsx';
import { hasArea, SeedCost } from './seedcost.tsx';
import { Sign } from './sign.tsx';
import { CHANGED, sureWord, VERDICT_WORD } from './words.ts';

/** A verdict for each machine, where several worked in the field. */
function Machines({ answer }: { answer: Answer }) {
  const rows = machineRows(answer.report, answer.planter.unit);
  if (rows.length === 0) return null;
  return (
    <>
      <h3>The machines</h3>
      <Scroll name="Machines">
        <table>
          <thead>
            <tr>
              {MACHINE_HEAD.map((h) => (
                <th scope="col" key={h}>
                  {h}
                </th>
              ))}
            </tr>
          </thead>
          <tbody>
            {rows.map(([name, ...cells]) => (
              <tr key={name}>
                <th scope="row">{name}</th>
                {cells.map((c, i) => (
                  <td key={MACHINE_HEAD[i + 1]}>{c}</td>
                ))}
              </tr>
            ))}
          </tbody>
        </table>
      </Scroll>
    </>
  );
}

export function VerdictPart({ sheet, choice }: { sheet: Sheet; choice: Choice }) {
  const { run, inputs } = sheet;
  const answer = run.state === 'done' ? run.answer : null;
  const ready = inputs.map.length > 0 && inputs.planter?.planter;
  const changed = isOld(sheet);
  return (
    <Part number={3} id="verdict" title="The verdict" lead="What is wrong, how to make sure, and what it did.">
      <div role="status" aria-live="polite">
        {run.state === 'done' &&
          (run.fix ? <FixStamp comparison={run.fix.comparison} /> : <Stamp report={run.answer.report} />)}
        {run.state === 'idle' && <p class="waiting">{waitingFor(sheet)}</p>}
        {run.state === 'running' && <p class="waiting">The check is running.</p>}
      </div>
      {run.state === 'running' && <Progress stage={run.stage} done={run.done} cancel={sheet.cancel} />}
      {run.state === 'failed' && <Failed failure={run.failure} sheet={sheet} />}
      {(changed || (ready && waits(run))) && (
        <p class={changed ? 'again' : 'again noprint'}>
          {ready && (
            <button type="button" class="button noprint" onClick={sheet.check}>
              {changed ? 'Check again' : 'Check the map'}
            </button>
          )}{' '}
          {changed && CHANGED}
          {changed && !ready && (
            <span class="noprint"> It has to be put right before it can be checked; see part 2.</span>
          )}
        </p>
      )}
      {run.state === 'done' && run.fix && (
        <Fix before={run.fix.before} after={run.answer} comparison={run.fix.comparison} />
      )}
      {answer && <Machines answer={answer} />}
      {answer && <Diagnoses answer={answer} choice={choice} sheet={sheet} />}
    </Part>
  );
}

/** Nothing is being checked, nothing was, and a check needs no more than a press of the button. */
function waits(run: Run): boolean {
  return run.state === 'idle' || (run.state === 'failed' && run.failure.kind !== 'several');
}

function waitingFor({ inputs }: Sheet): string {
  if (inputs.map.length === 0 && !inputs.planter)
    return 'Open a map and a planter file, or one of the sample fields, and the verdict stands here.';
  if (inputs.map.length === 0) return 'Open the map that this planter recorded, and the verdict stands here.';
  if (!inputs.planter) return 'Open or describe the planter that recorded this map, and the verdict stands here.';
  if (!inputs.planter.planter) return 'The planter file has to be put right first; see part 2.';
  return 'Ready to check.';
}

function Stamp({ report }: { report: Report }) {
  return (
    <div class={`stamp ${report.verdict}`}>
      <span class="word">
        <Sign verdict={report.verdict} />
        {VERDICT_WORD[report.verdict]}
      </span>
      <p class="says">{verdictSentence(report)}</p>
    </div>
  );
}

function Diagnoses({ answer, choice, sheet }: { answer: Answer; choice: Choice; sheet: Sheet }) {
  const { report } = answer;
  const compared = sheet.inputs.before.length > 0;
  return (
    <>
      {report.wouldDecide.length > 0 && (
        <>
          <h3>What would decide it</h3>
          <ul>
            {report.wouldDecide.map((w) => (
              <li key={w}>{w}</li>
            ))}
          </ul>
        </>
      )}
      {report.diagnoses.length > 0 && (
        <ol class="diagnoses">
          {report.diagnoses.map((d, at) => (
            <DiagnosisItem key={d.setting + d.says} diagnosis={d} at={at} answer={answer} choice={choice} />
          ))}
        </ol>
      )}
      <AccountList report={report} />
      {!compared && report.diagnoses.some(hasArea) && <SeedCost sheet={sheet} inches={answer.planter.unit === 'in'} />}
      {report.notes.length > 0 && (
        <>
          <h3>Noticed on the way</h3>
          <ul class="notes">
            {report.notes.map((n) => (
              <li key={n.code + n.sentence}>{noteText(n)}</li>
            ))}
          </ul>
        </>
      )}
    </>
  );
}

interface ItemProps {
  diagnosis: Diagnosis;
  at: number;
  answer: Answer;
  choice: Choice;
}

function DiagnosisItem({ diagnosis: d, at, answer, choice }: ItemProps) {
  const { unit } = answer.planter;
  const lines = effectLines(d, answer.report, unit);
  const because = becauseLines(d, answer.report);
  return (
    <li class={choice.marks.diagnosis === at ? 'chosen' : ''}>
      <h3>{SETTING_TITLE[d.setting]}</h3>
      <p class="says">{d.says}</p>
      <dl class="facts">
        <dt>To confirm</dt>
        <dd>{d.check}</dd>
        <dt>How sure</dt>
        <dd>
          <SureBar confidence={d.confidence} /> {confidenceText(d.confidence)}, {sureWord(d.confidence)}
        </dd>
        {because.length > 0 && (
          <>
            <dt>Because</dt>
            <dd>
              {because.map((says) => (
                <span class="row" key={says}>
                  {says}
                </span>
              ))}
            </dd>
          </>
        )}
        <dt>What it did</dt>
        <dd>
          {lines.length === 0
            ? NO_EFFECT
            : lines.map((l) => (
                <span class="row" key={l}>
                  {l}
                </span>
              ))}
        </dd>
      </dl>
      <Explained setting={d.setting} />
      <p class="noprint">
        <button
          type="button"
          class="plain"
          aria-pressed={choice.marks.diagnosis === at}
          onClick={() => choice.choose({ kind: 'diagnosis', at })}
        >
          Mark it in the evidence
        </button>
      </p>
    </li>
  );
}

/** What the setting is, in the words of the page of all settings, which it leads to. */
function Explained({ setting }: { setting: Diagnosis['setting'] }) {
  const explained = EXPLANATIONS.find((e) => e.setting === setting);
  if (!explained) return null;
  return (
    <details class="explained noprint">
      <summary>
        <span>What this setting is, and how it goes wrong</span>
      </summary>
      <dl class="facts">
        {EXPLANATION_PARTS.map(([key, title]) => (
          <Fragment key={key}>
            <dt>{title}</dt>
            <dd>{explained[key]}</dd>
          </Fragment>
        ))}
      </dl>
      <p>
        <a href={`./explain.html#${setting}`} target="_blank" rel="noopener">
          Every setting on a page of its own (opens beside this one)
        </a>
      </p>
    </details>
  );
}

function SureBar({ confidence }: { confidence: number }) {
  return (
    <svg class="sure" width="112" height="14" viewBox="0 0 112 14" aria-hidden="true" focusable="false">
      <rect class="whole" x="0.5" y="0.5" width="111" height="13" />
      <rect class="part-of" x="3" y="3" width={Math.max(1, 106 * confidence)} height="8" />
    </svg>
  );
}

function Progress({ stage, done, cancel }: { stage: string; done: number; cancel(): void }) {
  return (
    <div class="progress noprint">
      <label for="progress">{stage}</label>
      <progress id="progress" max={1} value={Math.min(1, done)} />
      <button type="button" class="plain" onClick={cancel}>
        Cancel
      </button>
    </div>
  );
}

/**
 * A message in words of the page where the core's own name a way of the command line: how to choose one layer of several. A boundary has
 * no layer to choose.
 */
function onPage(detail: Message, { map, before, boundary }: Inputs): { message: Message; layer: boolean } {
  if (detail.code !== 'several-layers' && detail.code !== 'layer-not-found') return { message: detail, layer: false };
  const isIn = (files: readonly File[]): boolean => files.some((f) => f.name === detail.place.file);
  const layer = isIn(map) || isIn(before) || !isIn(boundary);
  const todo = layer ? 'Write the name of one of them below.' : 'Give the boundary as a file with one layer.';
  return { message: { ...detail, todo }, layer };
}

const USES = { map: 'the map to check', before: 'the map from before a fix', boundary: 'the field boundary' } as const;

/** Several maps given together: the reader says what each is. */
function Several({ sheet }: { sheet: Sheet }) {
  const maps = mapsOf(sheet.inputs.map);
  const [problem, setProblem] = useState('');
  const choose = (form: FormData): void => {
    const chosen = (Object.keys(USES) as (keyof typeof USES)[]).map(
      (use) => [use, maps.filter((_, i) => form.get(`map-${i}`) === use)] as const,
    );
    const twice = chosen.find(([, found]) => found.length > 1);
    const [, [map]] = chosen[0];
    if (twice) setProblem(`Only one of them can be ${USES[twice[0]]}.`);
    else if (!map) setProblem('Say which of them is the map to check.');
    else sheet.chooseFiles({ ...Object.fromEntries(chosen.flatMap(([use, [one]]) => (one ? [[use, one]] : []))), map });
  };
  return (
    <>
      <div class="problem" role="alert">
        <p>
          <b>{severalMaps(maps)}. One is checked at a time.</b>
        </p>
        <p>
          <span class="label">What to do</span> Say what each of them is: {Object.values(USES).join(', ')}, or not
          needed.
        </p>
      </div>
      <form
        class="several noprint"
        onSubmit={(e) => {
          e.preventDefault();
          choose(new FormData(e.currentTarget));
        }}
      >
        {maps.map((m, i) => (
          <label key={mapName(m)}>
            <span class="file">{mapName(m)}</span> is{' '}
            <select name={`map-${i}`}>
              <option value="">not needed</option>
              {Object.entries(USES).map(([use, says]) => (
                <option key={use} value={use}>
                  {says}
                </option>
              ))}
            </select>
          </label>
        ))}
        <button type="submit" class="button">
          Go on with these
        </button>
        <p role="status">{problem}</p>
      </form>
    </>
  );
}

function Failed({ failure, sheet }: { failure: (Run & { state: 'failed' })['failure']; sheet: Sheet }) {
  if (failure.kind === 'several') return <Several sheet={sheet} />;
  if (failure.kind === 'cancelled') {
    return <p role="alert">The check was cancelled. Nothing was kept of it.</p>;
  }
  if (failure.kind === 'refused') {
    const { message, layer } = onPage(failure.detail, sheet.inputs);
    return (
      <>
        <Problem message={message} />
        {layer && <Layer sheet={sheet} />}
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

function Layer({ sheet }: { sheet: Sheet }) {
  return (
    <form
      class="propose"
      onSubmit={(e) => {
        e.preventDefault();
        sheet.chooseLayer(String(new FormData(e.currentTarget).get('layer') ?? ''));
      }}
    >
      <label>
        Layer to check
        <input name="layer" defaultValue={sheet.inputs.layer} />
      </label>
      <button type="submit" class="plain">
        Check this layer
      </button>
    </form>
  );
}
