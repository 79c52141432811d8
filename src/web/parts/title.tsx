import { countText } from '../../core/report/index.ts';
import { isOld, type Run, type Sheet } from '../state/index.ts';
import { CHANGED, FIX_WORD, VERDICT_WORD } from './words.ts';

/** The strip at the head of the sheet: what is checked against what, and what came of it. */
export function TitleStrip({ sheet }: { sheet: Sheet }) {
  const { inputs, run } = sheet;
  const old = isOld(sheet);
  const report = run.state === 'done' ? run.answer.report : null;
  const map = report?.map.source ?? inputs.map.map((f) => f.name).join(', ');
  return (
    <header class="title">
      <div class="name">
        <svg class="mark" viewBox="0 0 32 32" width="44" height="44" aria-hidden="true" focusable="false">
          <path class="rows" d="M3 5v22M9 5v22M23 5v22M29 5v22" />
          <path class="gap" d="M12.5 16h7" />
        </svg>
        <div>
          <h1>Guessrow check sheet</h1>
          <p>The map a planter recorded, held against the planter as it is declared.</p>
        </div>
      </div>
      <dl class="strip">
        <Field label="Map" value={map} />
        <Field label="Planter" value={inputs.planter?.planter?.name ?? inputs.planter?.fileName ?? ''} />
        <Field label="Planting" value={report?.declared.planting ?? inputs.planting} />
        <Field label="Records" value={report ? countText(report.map.records, 'record') : ''} />
        <Field label="Verdict" value={`${verdictWord(run)}${old ? ', before the change' : ''}`} strong />
      </dl>
      {old && <p class="note">{CHANGED}</p>}
      {report && (
        <p class="gist">
          {report.says} <a href="#verdict">Read the verdict</a>
        </p>
      )}
    </header>
  );
}

function verdictWord(run: Run): string {
  if (run.state === 'done')
    return run.fix ? FIX_WORD[run.fix.comparison.verdict] : VERDICT_WORD[run.answer.report.verdict];
  if (run.state === 'running') return `checking, ${Math.floor(100 * run.done)} %`;
  return run.state === 'failed' ? 'none: see part 3' : '';
}

function Field({ label, value, strong = false }: { label: string; value: string; strong?: boolean }) {
  return (
    <div class="field">
      <dt>{label}</dt>
      <dd>{value ? strong ? <strong>{value}</strong> : value : <span class="blank">—</span>}</dd>
    </div>
  );
}
