import { Fragment } from 'preact';
import type { Answer, Report } from '../../core/answer.ts';
import { Scroll, SeamChart, TimeLine } from '../../core/report/draw/index.ts';
import {
  areaRows,
  countText,
  NO_SEAMS,
  noteText,
  seamEntries,
  shareText,
  shownMachine,
} from '../../core/report/index.ts';
import { Fitted } from '../draw/fitted.tsx';
import type { Choice } from '../selection.ts';
import { type Done, isOld, type Sheet } from '../state/index.ts';
import { CHANGED, onPageWords } from './labels.ts';
import { Part } from './part.tsx';
import { PassTable } from './passtable.tsx';
import { ShownFor } from './planting.tsx';

export function EvidencePart({ done, choice, sheet }: { done: Done; choice: Choice; sheet: Sheet }) {
  const { answer, series } = done;
  const { report, evidence, planter } = answer;
  return (
    <Part number={2} id="evidence" title="The evidence" lead="What was measured, so that you can check it.">
      {isOld(sheet) && <p class="note">{CHANGED}</p>}
      <ShownFor sheet={sheet} report={report} />
      <h3>The seams</h3>
      <Seams answer={answer} />
      {evidence.seams.length > 0 && (
        <Fitted>{(width) => <SeamChart answer={answer} width={width} choice={choice} />}</Fitted>
      )}
      <h3>The time line</h3>
      <Fitted>{(width) => <TimeLine answer={answer} series={series} width={width} choice={choice} />}</Fitted>
      <h3>The passes</h3>
      <PassTable evidence={evidence} unit={planter.unit} choice={choice} />
      <h3>The areas</h3>
      <Areas answer={answer} />
      <h3>What was observed</h3>
      {report.observations.length === 0 ? (
        <p>Nothing stood out.</p>
      ) : (
        <ul class="observations">
          {report.observations.map((o) => (
            <li key={o.id} class={choice.marks.observations.has(o.id) ? 'chosen' : ''}>
              {o.says}
              {o.n > 1 && (
                <span class="quiet">
                  {' '}
                  Measured {countText(o.n, 'time')}; shows in {shareText(o.share)} of them.
                </span>
              )}
            </li>
          ))}
        </ul>
      )}
      <Notes report={report} />
    </Part>
  );
}

function Notes({ report }: { report: Report }) {
  if (report.notes.length === 0) return null;
  return (
    <>
      <h3>Other notes</h3>
      <ul class="notes">
        {report.notes.map((n) => (
          <li key={n.code + n.sentence}>{onPageWords(noteText(n))}</li>
        ))}
      </ul>
    </>
  );
}

function Seams({ answer }: { answer: Answer }) {
  const { seams } = shownMachine(answer.report);
  // An alternation from steering alone needs no action.
  const steady = Math.abs(seams.alternatingM ?? 0) <= seams.toleranceM;
  const facts = seamEntries(answer.report, answer.planter.unit).filter(([word]) => !(steady && word === 'alternate'));
  if (facts.length === 0) return <p>{NO_SEAMS}</p>;
  return (
    <dl class="facts">
      {facts.map(([word, says]) => (
        <Fragment key={word + says}>
          <dt>{word}</dt>
          <dd>{says}</dd>
        </Fragment>
      ))}
    </dl>
  );
}

function Areas({ answer }: { answer: Answer }) {
  return (
    <Scroll name="Areas">
      <table class="areas">
        <thead>
          <tr>
            <th scope="col">Area</th>
            <th scope="col" class="num">
              Size
            </th>
            <th scope="col">What it is</th>
          </tr>
        </thead>
        <tbody>
          {areaRows(answer.report, answer.planter.unit).map(([name, size, what]) => (
            <tr key={name}>
              <th scope="row">{name}</th>
              <td class="num">{size}</td>
              <td>{what}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </Scroll>
  );
}
