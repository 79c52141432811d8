import type { Sheet } from '../state/index.ts';

/** Stored planters: open or forget one, or store the one on the sheet. */
export function Kept({ sheet }: { sheet: Sheet }) {
  const { kept, inputs } = sheet;
  const { planter } = inputs;
  const isKept = kept.planters.some((k) => k.text === planter?.text);
  return (
    <div class="kept noprint">
      {kept.planters.length > 0 && (
        <>
          <p class="label">Kept in this browser</p>
          <ul>
            {kept.planters.map((k) => (
              <li key={k.name}>
                <button type="button" class="plain" onClick={() => sheet.openPlanter(k.fileName, k.text, 'kept')}>
                  {k.name}
                </button>
                <button
                  type="button"
                  class="quietbutton"
                  aria-label={`Forget ${k.name}`}
                  onClick={() => sheet.forgetPlanter(k.name)}
                >
                  Forget
                </button>
              </li>
            ))}
          </ul>
        </>
      )}
      {planter?.planter && planter.from !== 'sample' && !isKept && (
        <button type="button" class="plain" onClick={sheet.keepPlanter}>
          Keep this planter in the browser
        </button>
      )}
      <p role="status" class="quiet">
        {kept.problem}
      </p>
    </div>
  );
}
