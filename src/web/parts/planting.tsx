import type { Report } from '../../core/answer.ts';
import { layoutOf } from '../../core/planter/index.ts';
import type { Planter } from '../../core/planter/types.ts';
import { lengthText } from '../../core/report/index.ts';
import type { Sheet } from '../state/index.ts';

const rowsText = (planter: Planter, name: string): string => {
  const layout = layoutOf(planter, name);
  return `${layout.rows.length} rows over ${lengthText(layout.workingWidthM, planter.unit)}`;
};

/** Asked before any verdict: with several plantings, a right map and a wrong one look the same. */
export function PlantingQuestion({ sheet, planter }: { sheet: Sheet; planter: Planter }) {
  return (
    <fieldset class="question noprint">
      <legend>What was planted?</legend>
      <p class="quiet">{planter.name} can plant in several ways, and the verdict depends on it.</p>
      <div class="answers">
        {planter.plantings.map((p) => (
          <button key={p.name} type="button" class="plain" onClick={() => sheet.choosePlanting(p.name)}>
            <b>{p.name}</b> {rowsText(planter, p.name)}
          </button>
        ))}
        <button type="button" class="plain" onClick={() => sheet.choosePlanting('')}>
          <b>I don’t know</b> show the answer for each
        </button>
      </div>
    </fieldset>
  );
}

/** Where what was planted is not known, the pictures and tables can show only one planting: this says which. */
export function ShownFor({ sheet, report }: { sheet: Sheet; report: Report }) {
  const { declared, ifPlanted } = report;
  const others = ifPlanted.filter((p) => p.planting !== declared.planting);
  if (!sheet.inputs.unsure || others.length === 0) return null;
  return (
    <p class="note shownfor">
      Shown as if <b>{declared.planting}</b> was planted, because what was planted is not known.{' '}
      <span class="noprint">
        {others.map((p) => (
          <button type="button" class="quietbutton" key={p.planting} onClick={() => sheet.choosePlanting(p.planting)}>
            It was {p.planting}
          </button>
        ))}
      </span>
    </p>
  );
}

/** The same choice, once it was made. */
export function PlantingChoice({ sheet, planter }: { sheet: Sheet; planter: Planter }) {
  const { planting, unsure } = sheet.inputs;
  if (planter.plantings.length < 2)
    return <p>This planter has one planting. Others are added in the planter’s line.</p>;
  return (
    <fieldset class="choice noprint">
      <legend>Planted</legend>
      {planter.plantings.map((p) => (
        <label key={p.name}>
          <input
            type="radio"
            name="planting"
            value={p.name}
            checked={planting === p.name}
            onChange={() => sheet.choosePlanting(p.name)}
          />
          {p.name}, {p.rows.length} rows
        </label>
      ))}
      <label>
        <input type="radio" name="planting" value="" checked={unsure} onChange={() => sheet.choosePlanting('')} />I
        don’t know
      </label>
    </fieldset>
  );
}
