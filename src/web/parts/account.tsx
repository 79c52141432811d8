import { useState } from 'preact/hooks';
import type { Report } from '../../core/answer.ts';
import { ACCOUNT_TITLE, accountRows } from '../../core/report/index.ts';

/** Lines that are shown before the reader asks for all. */
const SHOWN = 5;

/** Every gap, overlap and wrong width with its cause, the largest first. */
export function AccountList({ report }: { report: Report }) {
  const [all, setAll] = useState(false);
  const { shown } = accountRows(report, all ? report.account.length : SHOWN);
  const left = report.account.length - shown.length;
  if (shown.length === 0) return null;
  return (
    <>
      <h3>{ACCOUNT_TITLE}</h3>
      <ul class="account">
        {shown.map((l) => (
          <li key={l.fact + l.picture + l.says}>{l.says}</li>
        ))}
      </ul>
      {left > 0 && (
        <button type="button" class="button quiet noprint" onClick={() => setAll(true)}>
          Show {left} more
        </button>
      )}
    </>
  );
}
