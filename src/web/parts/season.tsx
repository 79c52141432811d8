import { useState } from 'preact/hooks';
import { Scroll } from '../../core/report/draw/index.ts';
import { countText } from '../../core/report/index.ts';
import { mapName } from '../files.ts';
import {
  type Field,
  lacks,
  needsPlanting,
  type Own,
  readState,
  type Season,
  type Sheet,
  severalMaps,
} from '../state/index.ts';
import { Unused } from './inputs.tsx';
import { VERDICT_WORD } from './labels.ts';
import { PlanterInput } from './planter.tsx';
import { PlantingChoice, PlantingQuestion } from './planting.tsx';

const WORD = { ...VERDICT_WORD, 'not checked': 'Not checked' };
/** Worst first, with the word for several fields. */
const ORDER = { differs: 'differ', undecided: 'undecided', 'not checked': 'not checked', agrees: 'agree' };

/** Several fields as a list with their verdicts; each opens with a click. */
export function SeasonPart({ sheet, season }: { sheet: Sheet; season: Season }) {
  const { inputs } = sheet;
  const planter = inputs.planter?.planter ?? null;
  const fromMaps = season.from === 'maps';
  const asked = fromMaps && planter !== null && needsPlanting(inputs);
  return (
    <section class="part list" id="list" aria-labelledby="list-title">
      <h2 id="list-title">{countText(season.fields.length, 'field')}</h2>
      <Unused sheet={sheet} />
      {fromMaps && !planter && (
        <div class="panel" id="planter">
          <h3>Which planter recorded them?</h3>
          <p class="quiet">
            One for all of them, or one for each field, in its row. Several planter files can be dropped together.
          </p>
          <PlanterInput sheet={sheet} />
        </div>
      )}
      {asked && planter && <PlantingQuestion sheet={sheet} planter={planter} />}
      {fromMaps && planter && !asked && (
        <details class="line" id="planter">
          <summary>
            <span class="label">Planter</span>{' '}
            <span class="linesays">
              <b>{planter.name}</b>
              {(inputs.planting || inputs.unsure) && `, planted: ${inputs.planting || 'not known'}`}
            </span>{' '}
            <span class="change noprint">change</span>
          </summary>
          <div class="linebody">
            <PlantingChoice sheet={sheet} planter={planter} />
            <PlanterInput sheet={sheet} />
          </div>
        </details>
      )}
      {fromMaps && planter && !asked && (
        <p class="quiet noprint">
          A field that another planter planted can be given its own in its row. Drop more planter files to choose from.
        </p>
      )}
      <Count sheet={sheet} season={season} />
      <FieldTable sheet={sheet} season={season} />
      {fromMaps && <ToldApart sheet={sheet} fields={season.fields} />}
    </section>
  );
}

function Count({ sheet, season }: { sheet: Sheet; season: Season }) {
  const { run } = sheet;
  const checked = season.fields.filter((f) => f.row).length;
  const by = Object.entries(ORDER).flatMap(([v, several]) => {
    const n = season.fields.filter((f) => f.row?.verdict === v).length;
    return n > 0 ? [`${n} ${n === 1 ? v : several}`] : [];
  });
  const busy = run.state === 'running';
  return (
    <>
      <p role="status">
        {checked < season.fields.length && season.from === 'maps'
          ? `${checked} of ${season.fields.length} checked. `
          : ''}
        {by.join(', ')}
      </p>
      {busy && (
        <div class="progress noprint">
          <label for="progress">Checking the fields</label>
          <progress id="progress" max={season.fields.length} value={checked + run.done} />
          <button type="button" class="plain" onClick={sheet.cancel}>
            Cancel
          </button>
        </div>
      )}
      {!busy && run.state === 'failed' && (
        <p>
          <button type="button" class="button" onClick={sheet.check}>
            Go on
          </button>
        </p>
      )}
    </>
  );
}

function FieldTable({ sheet, season }: { sheet: Sheet; season: Season }) {
  const fromMaps = season.from === 'maps';
  const rows = season.fields.map((f, at) => ({ f, at }));
  const worst = ({ f }: (typeof rows)[number]): number => Object.keys(ORDER).indexOf(f.row?.verdict ?? '');
  // Only once nothing is waiting: rows would jump while the reader chooses planters in them.
  if (rows.every(({ f }) => f.row)) rows.sort((a, b) => worst(a) - worst(b));
  return (
    <Scroll name="Fields">
      <table class="stacked fields">
        <thead>
          <tr>
            <th scope="col">Field</th>
            {fromMaps && <th scope="col">Planter</th>}
            <th scope="col">Verdict</th>
            <th scope="col">What it says</th>
          </tr>
        </thead>
        <tbody>
          {rows.map(({ f, at }) => (
            <tr key={`${f.name} ${String(at)}`} class={f.row?.verdict.replace(' ', '-') ?? 'open'}>
              <th scope="row">
                {f.files.length > 0 || f.report ? (
                  <button type="button" class="linkbutton file" onClick={() => sheet.openField(at)}>
                    {f.name}
                  </button>
                ) : (
                  <span class="file">{f.name}</span>
                )}
              </th>
              {fromMaps && (
                <td>
                  <FieldPlanter sheet={sheet} season={season} at={at} />
                </td>
              )}
              <td class="verdictword">{f.row ? WORD[f.row.verdict] : waitingFor(sheet, f, at)}</td>
              <td>{f.row?.says}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </Scroll>
  );
}

/** Why a field has no verdict yet. */
function waitingFor({ inputs, run }: Sheet, field: Field, at: number): string {
  if (run.state === 'running' && run.job.kind === 'field' && run.job.at === at) return 'being checked';
  const lacking = lacks(field, inputs);
  return lacking === 'planter' ? 'needs its planter' : lacking === 'planting' ? 'what was planted?' : 'waiting';
}

/** The planter of one field: that of the list, or another that is known here. */
function FieldPlanter({ sheet, season, at }: { sheet: Sheet; season: Season; at: number }) {
  const { inputs, kept } = sheet;
  const { own, name } = season.fields[at];
  const known = [
    ...(inputs.planter ? [inputs.planter] : []),
    ...(own ? [own.planter] : []),
    ...season.planters,
    ...kept.planters.map((k) => readState(k.text, k.fileName, 'kept')),
  ].filter((p, i, all) => p.planter && all.findIndex((q) => q.text === p.text) === i);
  const choices = known
    .flatMap((planter): Own[] => {
      const plantings = planter.planter?.plantings ?? [];
      const named = plantings.length > 1 ? plantings.map((p) => ({ planter, planting: p.name })) : [];
      return [...named, { planter, planting: '' }];
    })
    .filter((c) => c.planter.text !== inputs.planter?.text || c.planting !== inputs.planting);
  const says = ({ planter, planting }: Own): string =>
    (planter.planter?.plantings.length ?? 0) > 1
      ? `${planter.planter?.name}, ${planting || 'planting not known'}`
      : (planter.planter?.name ?? planter.fileName);
  const chosen = own
    ? choices.findIndex((c) => c.planter.text === own.planter.text && c.planting === own.planting)
    : -1;
  return (
    <>
      <select
        class="noprint"
        aria-label={`Planter of ${name}`}
        value={String(chosen)}
        onChange={(e) => sheet.chooseFieldPlanter(at, choices[Number(e.currentTarget.value)] ?? null)}
      >
        <option value="-1">{inputs.planter?.planter ? 'as for the list' : 'not chosen'}</option>
        {choices.map((c, i) => (
          <option key={says(c)} value={String(i)}>
            {says(c)}
          </option>
        ))}
      </select>
      <span class="printonly">{own ? says(own) : (inputs.planter?.planter?.name ?? 'not chosen')}</span>
    </>
  );
}

const USES = { map: 'the map to check', before: 'the map from before a fix', boundary: 'the field boundary' } as const;

/** Files that were opened together need not be fields: one may be from before a fix, or a boundary. */
function ToldApart({ sheet, fields }: { sheet: Sheet; fields: readonly Field[] }) {
  const maps = fields.map((f) => f.files);
  const [problem, setProblem] = useState('');
  if (maps.length > 3) return null;
  const choose = (form: FormData): void => {
    const chosen = (Object.keys(USES) as (keyof typeof USES)[]).map(
      (use) => [use, maps.filter((_, i) => form.get(`map-${i}`) === use)] as const,
    );
    const twice = chosen.find(([, found]) => found.length > 1);
    const [, [map]] = chosen[0];
    if (twice) setProblem(`Only one of them can be ${USES[twice[0]]}.`);
    else if (!map) setProblem('Say which of them is the map to check.');
    else sheet.chooseFiles({ ...Object.fromEntries(chosen.flatMap(([use, [one]]) => (one ? [[use, one]] : []))), map });
  };
  return (
    <details class="samples noprint">
      <summary>
        <span>They are not separate fields: one is from before a fix, or a boundary</span>
      </summary>
      <p>{severalMaps(maps)}. Say what each of them is.</p>
      <form
        class="several"
        onSubmit={(e) => {
          e.preventDefault();
          choose(new FormData(e.currentTarget));
        }}
      >
        {maps.map((m, i) => (
          <label key={mapName(m)}>
            <span class="file">{mapName(m)}</span> is{' '}
            <select name={`map-${i}`}>
              <option value="">not needed</option>
              {Object.entries(USES).map(([use, says]) => (
                <option key={use} value={use}>
                  {says}
                </option>
              ))}
            </select>
          </label>
        ))}
        <button type="submit" class="button">
          Continue
        </button>
        <p role="status">{problem}</p>
      </form>
    </details>
  );
}
