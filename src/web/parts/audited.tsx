import { useEffect, useState } from 'preact/hooks';
import type { Report } from '../../core/answer.ts';
import type { Unit } from '../../core/planter/types.ts';
import { headline, SETTING_TITLE } from '../../core/report/index.ts';
import { type Field, readReport, type Sheet } from '../state/index.ts';
import { AccountList, DiagnosisEntries } from './account.tsx';
import { Unused } from './inputs.tsx';
import { VERDICT_WORD } from './labels.ts';
import { Part } from './part.tsx';
import { Sign } from './sign.tsx';
import { ToDo } from './todo.tsx';

/** A field of an audit, from its report: everything but the pictures, which need the map. */
export function AuditedField({ sheet, field }: { sheet: Sheet; field: Field }) {
  const [report, setReport] = useState<Report | string | null>(null);
  useEffect(() => {
    setReport(null);
    if (field.report) void readReport(field.report).then(setReport);
    else setReport('The report of this field is missing. Open the whole folder of the audit.');
  }, [field]);
  if (report === null) return <p class="waiting">The report is being read.</p>;
  if (typeof report === 'string')
    return (
      <div class="problem" role="alert">
        <p>{report}</p>
      </div>
    );
  const unit = unitOf(report);
  const { cause, did, also } = headline(report, unit);
  return (
    <>
      <section class="part top" id="verdict" aria-labelledby="verdict-title">
        <h2 id="verdict-title">{field.name}</h2>
        <Unused sheet={sheet} />
        <div class={`stamp ${report.verdict}`}>
          <span class="word">
            <Sign verdict={report.verdict} />
            {VERDICT_WORD[report.verdict]}
          </span>
          <div class="says">
            <p class="cause">{cause}</p>
            {did.length > 0 && <p class="did">{did.join(' ')}</p>}
            {also.length > 0 && <p class="also">Also to look at: {also.join('; ')}.</p>}
          </div>
        </div>
        <p class="note">
          From a report that was written before. Open <b class="file">{report.map.source}</b> with the planter “
          {report.declared.planter}” to see it on the map.
        </p>
      </section>
      <Part number={1} id="account" title="The account" lead="What is wrong, and what it did.">
        <ol class="diagnoses">
          {report.diagnoses.map((d) => (
            <li key={d.setting + d.says}>
              <h3>{SETTING_TITLE[d.setting] ?? d.setting}</h3>
              <p class="says">{d.says}</p>
              <DiagnosisEntries diagnosis={d} report={report} unit={unit} />
            </li>
          ))}
        </ol>
        <AccountList report={report} />
      </Part>
      <ToDo number={2} report={report} />
    </>
  );
}

/** The unit that the report's own sentences are in; a written report holds meters and its sentences the planter's unit. */
function unitOf({ says, diagnoses, account }: Report): Unit {
  const text = [says, ...diagnoses.map((d) => d.says), ...account.map((l) => l.says)].join(' ');
  return /\d (in|ft|ac)\b/.test(text) ? 'in' : 'cm';
}
