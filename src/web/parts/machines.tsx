import type { Planter } from '../../core/planter/types.ts';
import type { MachinePlanter, Sheet } from '../state/index.ts';
import { shown } from '../state/index.ts';
import { FilePick } from './filepick.tsx';
import { Problem } from './problem.tsx';

/** The planter of each machine, where the map has several. A machine without its own is compared with `planter`. */
export function MachinePlanters({ sheet, planter }: { sheet: Sheet; planter: Planter }) {
  const { inputs, run } = sheet;
  const answer = (shown(run) ?? (run.state === 'looked' ? run : null))?.answer;
  // Those with a planter stay in the list while there is no answer: the map may have no such machine.
  const names = [...new Set([...(answer?.evidence.machines ?? []), ...inputs.machines.map((m) => m.machine)])];
  if (names.length < 2 && inputs.machines.length === 0) return null;
  return (
    <section class="machines" aria-label="The planter of each machine">
      <p class="label">The planter of each machine</p>
      <ul>
        {names.map((name, i) => {
          const own = inputs.machines.find((m) => m.machine === name);
          return (
            <li key={name}>
              <p>
                <b>{name}</b>: {own ? (own.planter.planter?.name ?? own.planter.fileName) : planter.name}
                {own && <Own sheet={sheet} own={own} />}
              </p>
              {own?.planter.error && <Problem message={own.planter.error} />}
              <FilePick
                id={`machine-planter-${i + 1}`}
                label={own ? `Open another for ${name}` : `Open another planter for ${name}`}
                accept=".json"
                hint="A *.planter.json, for the passes of this machine only."
                open={async ([file]) => sheet.openMachinePlanter(name, file.name, await file.text(), 'file')}
              />
              {!own && <KeptFor sheet={sheet} machine={name} planter={planter} />}
            </li>
          );
        })}
      </ul>
    </section>
  );
}

/** What its machine planted, and the button that takes it away. */
function Own({ sheet, own }: { sheet: Sheet; own: MachinePlanter }) {
  const plantings = own.planter.planter?.plantings ?? [];
  return (
    <span class="noprint">
      {plantings.length > 1 && (
        <select
          class="inline"
          aria-label={`What ${own.machine} planted`}
          value={own.planting}
          onChange={(e) => sheet.chooseMachinePlanting(own.machine, e.currentTarget.value)}
        >
          <option value="">I don’t know</option>
          {plantings.map((p) => (
            <option key={p.name} value={p.name}>
              {p.name}
            </option>
          ))}
        </select>
      )}
      <button
        type="button"
        class="quietbutton"
        aria-label={`Take away the planter of ${own.machine}`}
        onClick={() => sheet.dropMachinePlanter(own.machine)}
      >
        Remove
      </button>
    </span>
  );
}

/** Planters kept in the browser that were found on this machine before. */
function KeptFor({ sheet, machine, planter }: { sheet: Sheet; machine: string; planter: Planter }) {
  const kept = sheet.kept.planters.filter((k) => k.name !== planter.name && k.machines?.includes(machine));
  return (
    <>
      {kept.map((k) => (
        <button
          key={k.name}
          type="button"
          class="plain noprint"
          onClick={() => sheet.openMachinePlanter(machine, k.fileName, k.text, 'kept')}
        >
          Use {k.name}, kept here
        </button>
      ))}
    </>
  );
}
