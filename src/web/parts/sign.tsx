import type { Report } from '../../core/answer.ts';

/** A separate shape for each verdict, so that none depends on color. */
export function Sign({ verdict }: { verdict: Report['verdict'] }) {
  return (
    <svg class="sign" viewBox="0 0 24 24" width="28" height="28" aria-hidden="true" focusable="false">
      {verdict === 'agrees' && <path d="M4 13l5 6L20 5" />}
      {verdict === 'differs' && <path d="M4 9h16M4 16h16M16 3L8 22" />}
      {verdict === 'undecided' && <path d="M4 12h3M10.5 12h3M17 12h3" />}
    </svg>
  );
}
