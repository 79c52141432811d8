import { useState } from 'preact/hooks';
import type { Sheet } from '../state/index.ts';
import { forgetPlanter, keepPlanter, keptPlanters } from '../state/index.ts';

/** Planter files that this browser keeps: to open again, to forget, and the one on the sheet to keep. */
export function Kept({ sheet }: { sheet: Sheet }) {
  const [found, setFound] = useState(keptPlanters);
  const [says, setSays] = useState('');
  const state = sheet.inputs.planter;
  const list = typeof found === 'string' ? [] : found;
  const after = (problem: string, good: string): void => {
    setSays(problem || good);
    setFound(keptPlanters());
  };
  return (
    <div class="kept noprint">
      {list.length > 0 && (
        <>
          <p class="label">Kept in this browser</p>
          <ul>
            {list.map((k) => (
              <li key={k.name}>
                <button type="button" class="plain" onClick={() => sheet.openPlanter(k.fileName, k.text)}>
                  {k.name}
                </button>
                <button
                  type="button"
                  class="quietbutton"
                  aria-label={`Forget ${k.name}`}
                  onClick={() => after(forgetPlanter(k.name), `${k.name} was forgotten.`)}
                >
                  Forget
                </button>
              </li>
            ))}
          </ul>
        </>
      )}
      {state?.planter && (
        <button
          type="button"
          class="plain"
          onClick={() => {
            const name = state.planter?.name ?? state.fileName;
            after(
              keepPlanter({ fileName: state.fileName, name, text: state.text }),
              `${name} is kept in this browser.`,
            );
          }}
        >
          Keep this planter in the browser
        </button>
      )}
      <p role="status" class="quiet">
        {says || (typeof found === 'string' ? found : '')}
      </p>
    </div>
  );
}
