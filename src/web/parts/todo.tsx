import type { Report } from '../../core/answer.ts';
import { SETTING_TITLE } from '../../core/report/index.ts';
import { onPageWords } from './labels.ts';
import { Part } from './part.tsx';
import { COUNT_ROWS } from './whose.tsx';

/** What to do next: confirm, decide, and the limits of the answer. `guessed`: the planter was guessed from the map. */
export function ToDo({ report, guessed = false, number = 3 }: { report: Report; guessed?: boolean; number?: number }) {
  const { wouldDecide, cautions } = report;
  // A layout that changed twice is two diagnoses, with one thing to look at.
  const diagnoses = report.diagnoses.filter(
    (d, i, all) => all.findIndex((o) => o.setting === d.setting && o.check === d.check) === i,
  );
  return (
    <Part number={number} id="todo" title="What to do" lead="Make sure first, then change the setting.">
      {guessed && (
        <p>
          <b>Describe the planter as it is.</b> {COUNT_ROWS}
        </p>
      )}
      {diagnoses.length > 0 && (
        <ol class="steps">
          {diagnoses.map((d) => (
            <li key={d.setting + d.says}>
              <b>{SETTING_TITLE[d.setting]}.</b> {d.check}
            </li>
          ))}
        </ol>
      )}
      {wouldDecide.length > 0 && (
        <>
          <h3>What would decide it</h3>
          <ul>
            {wouldDecide.map((w) => (
              <li key={w}>{onPageWords(w)}</li>
            ))}
          </ul>
        </>
      )}
      {diagnoses.length === 0 && wouldDecide.length === 0 && !guessed && <p>Nothing needs to change.</p>}
      <h3>What this sheet cannot see</h3>
      <ul class="cautions" id="cautions">
        {cautions.map((c) => (
          <li key={c}>{c}</li>
        ))}
      </ul>
    </Part>
  );
}
