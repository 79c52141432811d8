import type { Sheet } from '../state/index.ts';

/** The head of the sheet: its name, and how to start over. */
export function TitleStrip({ sheet }: { sheet: Sheet }) {
  const { inputs, run, season, open, sample, visit } = sheet;
  const bare = inputs.map.length === 0 && !season && run.state === 'idle';
  return (
    <header class={bare ? 'title' : 'title small'}>
      <div class="name">
        <svg class="mark" viewBox="0 0 32 32" width="44" height="44" aria-hidden="true" focusable="false">
          <path class="rows" d="M3 5v22M9 5v22M23 5v22M29 5v22" />
          <path class="gap" d="M12.5 16h7" />
        </svg>
        <h1>Guessrow check sheet</h1>
      </div>
      {!(bare && !inputs.planter) && (
        <p class="ways noprint">
          {sample.id && visit > 1 && (
            <button type="button" class="quietbutton" onClick={() => history.back()}>
              Back
            </button>
          )}
          {season && open >= 0 && (
            <button type="button" class="quietbutton" onClick={sheet.openList}>
              Back to the list
            </button>
          )}
          <button type="button" class="quietbutton" onClick={sheet.startOver}>
            Start over
          </button>
        </p>
      )}
    </header>
  );
}
