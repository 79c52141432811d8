import { Fragment } from 'preact';
import { useState } from 'preact/hooks';
import type { Answer, Diagnosis, Report } from '../../core/answer.ts';
import { Scroll } from '../../core/report/draw/index.ts';
import {
  ACCOUNT_TITLE,
  becauseLines,
  confidenceText,
  EXPLANATION_PARTS,
  EXPLANATIONS,
  effectLines,
  MACHINE_HEAD,
  machineRows,
  NO_EFFECT,
  SETTING_TITLE,
} from '../../core/report/index.ts';
import type { Choice } from '../selection.ts';
import type { Done, Sheet } from '../state/index.ts';
import { Fix } from './fix.tsx';
import { sureWord } from './labels.ts';
import { Part } from './part.tsx';
import { ShownFor } from './planting.tsx';
import { hasArea, SeedCost } from './seedcost.tsx';

/** The reasons for the verdict: the wrong settings, and every gap, overlap and wrong width with its cause. */
export function AccountPart({ done, choice, sheet }: { done: Done; choice: Choice; sheet: Sheet }) {
  const { answer, fix } = done;
  const { report } = answer;
  const unit = answer.planter.unit;
  return (
    <Part number={1} id="account" title="The account" lead="What is wrong, and what it did.">
      <ShownFor sheet={sheet} report={report} />
      {fix && <Fix before={fix.before} after={answer} comparison={fix.comparison} />}
      <Machines answer={answer} />
      {report.diagnoses.length > 0 && (
        <ol class="diagnoses">
          {report.diagnoses.map((d, at) => (
            <DiagnosisItem key={d.setting + d.says} diagnosis={d} at={at} answer={answer} choice={choice} />
          ))}
        </ol>
      )}
      <AccountList report={report} />
      {!fix && report.diagnoses.some(hasArea) && <SeedCost sheet={sheet} inches={unit === 'in'} />}
    </Part>
  );
}

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

/** Lines that are shown before the reader asks for all. */
const SHOWN = 5;

/** Every gap, overlap and wrong width with its cause, the largest first. */
export function AccountList({ report }: { report: Report }) {
  const [all, setAll] = useState(false);
  if (report.account.length === 0) return null;
  const left = all ? 0 : Math.max(0, report.account.length - SHOWN);
  return (
    <>
      <h3>{ACCOUNT_TITLE}</h3>
      <ul class="account">
        {report.account.map((l, i) => (
          <li key={l.fact + l.picture + l.says} class={!all && i >= SHOWN ? 'printonly' : ''}>
            {l.says}
          </li>
        ))}
      </ul>
      {left > 0 && (
        <button type="button" class="plain noprint" onClick={() => setAll(true)}>
          Show {left} more
        </button>
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
  const mark = (): void => {
    choice.choose({ kind: 'diagnosis', at });
    if (choice.marks.diagnosis === at) return;
    document.getElementById('field')?.scrollIntoView({ block: 'start' });
    document.querySelector<HTMLElement>('#field canvas')?.focus({ preventScroll: true });
  };
  return (
    <li class={choice.marks.diagnosis === at ? 'chosen' : ''}>
      <h3>{SETTING_TITLE[d.setting]}</h3>
      <p class="says">{d.says}</p>
      <DiagnosisEntries diagnosis={d} report={answer.report} unit={answer.planter.unit} />
      <Explained setting={d.setting} />
      <p class="noprint">
        <button type="button" class="plain" aria-pressed={choice.marks.diagnosis === at} onClick={mark}>
          Show it on the map
        </button>
      </p>
    </li>
  );
}

export function DiagnosisEntries(props: { diagnosis: Diagnosis; report: Report; unit: Answer['planter']['unit'] }) {
  const { diagnosis: d, report, unit } = props;
  const lines = effectLines(d, report, unit);
  const because = becauseLines(d, report);
  return (
    <dl class="facts">
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
  );
}

/** The explanation of the setting, with a link to the page of all settings. */
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
