import { useLayoutEffect, useMemo, useRef, useState } from 'preact/hooks';
import type { Answer, Evidence } from '../core/answer.ts';
import { droppedFiles } from './files.ts';
import { AccountPart } from './parts/account.tsx';
import { AuditedField } from './parts/audited.tsx';
import { EvidencePart } from './parts/evidence.tsx';
import { FieldPart, RulersPart } from './parts/field.tsx';
import { FirstPart } from './parts/first.tsx';
import { InputLines } from './parts/inputs.tsx';
import { AlonePart } from './parts/map-only.tsx';
import { Opening } from './parts/opening.tsx';
import { SeasonPart } from './parts/season.tsx';
import { TakeAway } from './parts/takeaway.tsx';
import { TitleStrip } from './parts/title.tsx';
import { ToDo } from './parts/todo.tsx';
import { VerdictPart } from './parts/verdict.tsx';
import { type Choice, marksOf, NO_MARKS, NOTHING, type Selection, same } from './selection.ts';
import { isGuess, needsPlanting, type Sheet, shown, useSheet } from './state/index.ts';

/** The check sheet: first its inputs, then the answer from top to bottom. */
export function App() {
  const sheet = useSheet();
  const dropping = useDrop(sheet.openFiles);
  return (
    <div class={`sheet${dropping ? ' dropping' : ''}`}>
      <a class="skip" href="#main">
        Skip to content
      </a>
      <TitleStrip sheet={sheet} />
      <main id="main">
        <Body sheet={sheet} />
      </main>
      <footer class="foot">
        <p>
          This sheet works in your own browser. No map, planter or answer leaves this computer, and no address outside
          it is contacted.
        </p>
      </footer>
    </div>
  );
}

function Body({ sheet }: { sheet: Sheet }) {
  const { season, open, inputs, run, visit } = sheet;
  useFocus(visit);
  if (season && open < 0) return <SeasonPart sheet={sheet} season={season} />;
  const field = season?.fields[open];
  if (field && field.files.length === 0) return <AuditedField sheet={sheet} field={field} />;
  const fetching = run.state === 'running' && run.job.kind === 'fetch';
  if (inputs.map.length === 0 && !fetching) return <Opening sheet={sheet} />;
  return <AnswerSheet sheet={sheet} />;
}

function AnswerSheet({ sheet }: { sheet: Sheet }) {
  const { run, inputs } = sheet;
  const done = shown(run);
  const picture = done ?? (run.state === 'looked' ? run : null);
  const choice = useChoice(picture?.answer ?? null);
  const answered = done !== null && !needsPlanting(inputs);
  return (
    <>
      <div class="firstview">
        <VerdictPart sheet={sheet} />
        <InputLines sheet={sheet} />
        {picture && <FieldPart picture={picture} choice={choice} />}
        {!picture && run.state === 'running' && run.pictures.length > 0 && <FirstPart pictures={run.pictures} />}
      </div>
      {run.state === 'looked' && <AlonePart look={run} />}
      {done && <RulersPart answer={done.answer} choice={choice} sheet={sheet} />}
      {answered && (
        <>
          <AccountPart done={done} choice={choice} sheet={sheet} />
          <EvidencePart done={done} choice={choice} sheet={sheet} />
          <ToDo report={done.answer.report} guessed={isGuess(inputs.planter)} />
          <TakeAway answer={done.answer} input={done.input} sheet={sheet} />
        </>
      )}
    </>
  );
}

/** One selection for the whole sheet. It belongs to one answer: the next map or check starts without one. */
function useChoice(answer: Answer | null): Choice {
  const evidence = answer?.evidence ?? null;
  const [held, setHeld] = useState<{ evidence: Evidence | null; selection: Selection }>({
    evidence,
    selection: NOTHING,
  });
  const selection = held.evidence === evidence ? held.selection : NOTHING;
  const marks = useMemo(() => (answer ? marksOf(selection, answer) : NO_MARKS), [answer, selection]);
  return {
    selection,
    marks,
    choose: (next) => setHeld({ evidence, selection: same(selection, next) ? NOTHING : next }),
  };
}

/** What opened the next sheet is often gone with the last one, and the focus with it: it goes to the heading of what has come. */
function useFocus(visit: number): void {
  const first = useRef(visit);
  useLayoutEffect(() => {
    if (visit === first.current || document.activeElement !== document.body) return;
    const heading = ['#verdict-title', '#list-title', 'h1']
      .map((which) => document.querySelector<HTMLElement>(which))
      .find((found) => found !== null);
    if (!heading) return;
    heading.tabIndex = -1;
    heading.focus({ preventScroll: true });
  }, [visit]);
}

/** Files may be dropped anywhere on the sheet. True while something hangs over it. */
function useDrop(open: (files: readonly File[]) => Promise<void>): boolean {
  const [over, setOver] = useState(false);
  // Before the first paint: a file that is dropped right away would be opened by the browser instead.
  useLayoutEffect(() => {
    let depth = 0;
    const isFiles = (e: DragEvent): boolean => e.dataTransfer?.types.includes('Files') ?? false;
    const enter = (e: DragEvent): void => {
      if (!isFiles(e)) return;
      depth++;
      setOver(true);
    };
    const leave = (e: DragEvent): void => {
      if (!isFiles(e)) return;
      depth = Math.max(0, depth - 1);
      if (depth === 0) setOver(false);
    };
    const hover = (e: DragEvent): void => {
      if (isFiles(e)) e.preventDefault();
    };
    const drop = (e: DragEvent): void => {
      if (!isFiles(e) || !e.dataTransfer) return;
      e.preventDefault();
      depth = 0;
      setOver(false);
      void droppedFiles(e.dataTransfer).then(open);
    };
    addEventListener('dragenter', enter);
    addEventListener('dragleave', leave);
    addEventListener('dragover', hover);
    addEventListener('drop', drop);
    return () => {
      removeEventListener('dragenter', enter);
      removeEventListener('dragleave', leave);
      removeEventListener('dragover', hover);
      removeEventListener('drop', drop);
    };
  }, []);
  return over;
}
