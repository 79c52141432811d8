import type { Inputs, Sheet } from '../state/index.ts';

const ORDERS: readonly [Inputs['dates'], string][] = [
  ['', 'not said'],
  ['day-first', 'day first: 3/5 is 3 May'],
  ['month-first', 'month first: 3/5 is March 5'],
];

/** The order of day and month in ambiguous dates. */
export function Dates({ sheet }: { sheet: Sheet }) {
  const { dates } = sheet.inputs;
  return (
    <p class="records">
      <label>
        <span class="label">Dates</span>{' '}
        <select
          class="noprint"
          value={dates}
          onChange={(e) => sheet.chooseDates(e.currentTarget.value as Inputs['dates'])}
        >
          {ORDERS.map(([order, says]) => (
            <option key={order} value={order}>
              {says}
            </option>
          ))}
        </select>
      </label>
      <span class="printonly">{ORDERS.find(([order]) => order === dates)?.[1]}</span>
    </p>
  );
}
