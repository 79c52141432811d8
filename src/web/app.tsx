import { useEffect, useMemo, useState } from 'preact/hooks';
import type { Answer, Evidence } from '../core/answer.ts';
import { EvidencePart } from './parts/evidence.tsx';
import { MapPart } from './parts/map.tsx';
import { PlanterPart } from './parts/planter.tsx';
import { TakeAway } from './parts/takeaway.tsx';
import { TitleStrip } from './parts/title.tsx';
import { VerdictPart } from './parts/verdict.tsx';
import { type Choice, marksOf, NO_MARKS, NOTHING, type Selection, same } from './selection.ts';
import { isOld, shown, useSheet } from './state/index.ts';

/** The check sheet, from top to bottom. */
export function App() {
  const sheet = useSheet();
  const dropping = useDrop(sheet.openFiles);
  const done = shown(sheet.run);
  const choice = useChoice(done?.answer ?? null);
  return (
    <div class={`sheet${dropping ? ' dropping' : ''}`}>
      <a class="skip" href="#verdict">
        Skip to the verdict
      </a>
      <TitleStrip sheet={sheet} />
      <main>
        <MapPart sheet={sheet} />
        <PlanterPart sheet={sheet} />
        <VerdictPart sheet={sheet} choice={choice} />
        {done && <EvidencePart done={done} choice={choice} old={isOld(sheet)} />}
        {done && <TakeAway answer={done.answer} input={done.input} sheet={sheet} />}
      </main>
      <footer class="foot">
        <p>
          This sheet works in your own browser. No map, planter or answer leaves this computer; no address outside it is
          asked for anything.
        </p>
      </footer>
    </div>
  );
}

/** One choice for the whole sheet. It belongs to what was measured: with the next map, or the next check, nothing is chosen. */
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

/** Files may be dropped anywhere on the sheet. True while something hangs over it. */
function useDrop(open: (files: readonly File[]) => Promise<void>): boolean {
  const [over, setOver] = useState(false);
  useEffect(() => {
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
      if (!isFiles(e)) return;
      e.preventDefault();
      depth = 0;
      setOver(false);
      void open([...(e.dataTransfer?.files ?? [])]);
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
