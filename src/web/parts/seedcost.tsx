import { useState } from 'preact/hooks';
import type { Diagnosis } from '../../core/answer.ts';
import { pricePerHa } from '../../core/planter/index.ts';
import type { Sheet } from '../state/index.ts';

/** The map shows ground planted twice or left without rows, so a price applies. */
export function hasArea({ effect }: Diagnosis): boolean {
  return (effect.doubledM2 ?? 0) > 0 || (effect.unplantedM2 ?? 0) > 0;
}

/** "ac" or "ha" of a price as it was written; '' where there is none. */
function unitOf(price: string): string {
  return /(ac|ha)\s*$/.exec(price)?.[1] ?? '';
}

/** The price of the seed: effects are then given in money beside the areas. */
export function SeedCost({ sheet, inches }: { sheet: Sheet; inches: boolean }) {
  const held = sheet.inputs.seedCost;
  const [typed, setTyped] = useState(held.replace(/\s*\/.*/, ''));
  const [unit, setUnit] = useState(unitOf(held) || (inches ? 'ac' : 'ha'));
  const priceOf = (number: string, per: string): string =>
    number.trim() === '' ? '' : `${number.trim().replace(',', '.')}/${per}`;
  const price = priceOf(typed, unit);
  const wrong = price !== '' && pricePerHa(price) === null;
  const take = (number: string, per: string): void => {
    setTyped(number);
    setUnit(per);
    const next = priceOf(number, per);
    sheet.chooseSeedCost(pricePerHa(next) === null ? '' : next);
  };
  return (
    <fieldset class="seedcost noprint">
      <legend>What it cost in seed</legend>
      <label>
        Price of the seed
        <input
          value={typed}
          inputMode="decimal"
          size={8}
          aria-invalid={wrong}
          aria-describedby="seedcost-hint"
          onInput={(e) => take(e.currentTarget.value, unit)}
        />
      </label>
      <label>
        for
        <select value={unit} onChange={(e) => take(typed, e.currentTarget.value)}>
          <option value="ac">an acre</option>
          <option value="ha">a hectare</option>
        </select>
      </label>
      <p id="seedcost-hint" class={wrong ? 'wrong' : 'quiet'}>
        {wrong
          ? `"${typed.trim()}" is not a price. Write a number above 0, without a sign for the money.`
          : 'Price of a bag / seeds in it × seeds planted on that area. A plain number, without a currency sign.'}
      </p>
    </fieldset>
  );
}
