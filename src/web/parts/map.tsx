import type { ComponentChildren } from 'preact';
import { useState } from 'preact/hooks';
import type { MapSummary, Role } from '../../core/answer.ts';
import { Scroll } from '../../core/report/draw/index.ts';
import { countText, distanceText, FORMAT_WORDS } from '../../core/report/index.ts';
import { type Done, type Sheet, shown } from '../state/index.ts';
import { Dates } from './dates.tsx';
import { FilePick } from './filepick.tsx';
import { GRAIN_WORDS, ROLE_WORDS, ROLES, TRAVEL_WORDS } from './labels.ts';

export const MAP_ENDINGS =
  '.geojson,.json,.geojsonl,.ndjson,.gz,.zip,.shp,.dbf,.prj,.cpg,.shx,.gpkg,.fgb,.parquet,.kml,.kmz,.csv';

/** The map, and what may come with it. */
export function MapInput({ sheet }: { sheet: Sheet }) {
  const { inputs } = sheet;
  return (
    <>
      <FilePick
        id="map-files"
        label={inputs.map.length > 0 ? 'Open another map' : 'Open a map'}
        accept={MAP_ENDINGS}
        multiple
        open={sheet.openFiles}
        hint="Or drop it anywhere on this sheet: GeoJSON, a zipped shapefile, GeoPackage, KML or CSV. The planter file can come with it."
      />
      {inputs.map.length > 0 && (
        <p class="given">
          <span class="label">Given</span>{' '}
          {inputs.map.map((f, i) => (
            <span key={f.name}>
              {i > 0 && ', '}
              <b class="file">{f.name}</b> ({sizeText(f.size)})
            </span>
          ))}
        </p>
      )}
      {inputs.map.length > 0 && (
        <div class="moremaps">
          <Before sheet={sheet} />
          <Boundary sheet={sheet} />
        </div>
      )}
    </>
  );
}

/** The result of reading it, and the remaining choices. */
export function MapRead({ sheet }: { sheet: Sheet }) {
  const { run } = sheet;
  const read = shown(run) ?? (run.state === 'looked' ? run : null);
  if (!read) return null;
  const { report, planter } = read.answer;
  return (
    <WhatWasRead map={report.map} inches={planter.unit === 'in'}>
      <Records sheet={sheet} choices={read.choices} />
      {(sheet.inputs.dates !== '' || report.notes.some((n) => n.code === 'dates-open')) && <Dates sheet={sheet} />}
      <Columns sheet={sheet} map={report.map} names={read.columns} />
    </WhatWasRead>
  );
}

/** A map from before a fix: the sheet then shows both side by side. */
function Before({ sheet }: { sheet: Sheet }) {
  const { before } = sheet.inputs;
  return (
    <details class="samples" open={before.length > 0 || undefined}>
      <summary>
        <span>Confirm a fix: compare with the map from before</span>
      </summary>
      <FilePick
        id="before-files"
        label="Open the map from before"
        accept={MAP_ENDINGS}
        multiple
        open={async (files) => sheet.chooseBefore(files)}
        hint="Recorded by the same planter before the setting was changed. The map above then counts as the one after."
      />
      {before.length > 0 && (
        <p class="given">
          <span class="label">Before</span> <b class="file">{before.map((f) => f.name).join(', ')}</b>{' '}
          <button type="button" class="plain" onClick={() => sheet.chooseBefore([])}>
            Check the map by itself
          </button>{' '}
          <Kept sheet={sheet} what="before" />
          {(sheet.inputs.boundary.length > 0 || Object.keys(sheet.inputs.columns).length > 0) && (
            <span>The boundary and the columns you chose belong to one map: a comparison leaves them out.</span>
          )}
        </p>
      )}
    </details>
  );
}

/** Inputs that stayed with a newer map are marked, because they may belong to another field. */
function Kept({ sheet, what }: { sheet: Sheet; what: 'before' | 'boundary' }) {
  if (!sheet.inputs.kept.includes(what)) return null;
  return <span role="status">Kept when the newer map was opened. </span>;
}

/** A boundary closes the field at its edge, so that open ground there counts as a gap. */
function Boundary({ sheet }: { sheet: Sheet }) {
  const { boundary } = sheet.inputs;
  return (
    <details class="samples" open={boundary.length > 0 || undefined}>
      <summary>
        <span>Field boundary, if there is one</span>
      </summary>
      <FilePick
        id="boundary-files"
        label="Open a boundary"
        accept={MAP_ENDINGS}
        multiple
        open={async (files) => sheet.chooseBoundary(files)}
        hint="GeoJSON or shapefile. Open ground between the records and the boundary then counts as a gap."
      />
      {boundary.length > 0 && (
        <p class="given">
          <span class="label">Given</span> <b class="file">{boundary.map((f) => f.name).join(', ')}</b>{' '}
          <button type="button" class="plain" onClick={() => sheet.chooseBoundary([])}>
            Remove
          </button>{' '}
          <Kept sheet={sheet} what="boundary" />
        </p>
      )}
    </details>
  );
}

function WhatWasRead({ map, inches, children }: { map: MapSummary; inches: boolean; children: ComponentChildren }) {
  const unit = inches ? 'in' : 'm';
  const skipped = map.setAside.reduce((n, s) => n + s.count, 0);
  return (
    <>
      <h3>What was read</h3>
      <dl class="facts">
        <dt>Read from</dt>
        <dd>
          {map.source}, {FORMAT_WORDS[map.format]}
        </dd>
        <dt>Grain</dt>
        <dd>{GRAIN_WORDS[map.grain]}</dd>
        <dt>Records</dt>
        <dd>
          {countText(map.records, 'record')} in the file, {countText(map.used, 'record')} used
        </dd>
        <dt>Skipped</dt>
        <dd>
          {skipped === 0
            ? 'Nothing'
            : map.setAside.map((s) => (
                <span class="row" key={s.reason}>
                  {countText(s.count, 'record')}: {s.reason} (the first is record{' '}
                  {s.firstRecord.toLocaleString('en-US')})
                </span>
              ))}
        </dd>
        <dt>Driven</dt>
        <dd>
          {countText(map.passes, 'pass', 'passes')}, {countText(map.bars, 'bar')}, {distanceText(map.travelM, unit)} of
          travel
        </dd>
        <dt>Direction</dt>
        <dd>Known {TRAVEL_WORDS[map.travelFrom]}</dd>
      </dl>
      {children}
    </>
  );
}

/** Which records are used: one map may hold several fields, machines or crops. */
function Records({ sheet, choices }: { sheet: Sheet; choices: Done['choices'] }) {
  const { where } = sheet.inputs;
  if (choices.length === 0) return null;
  const at = where ? `${where.column}\0${where.value}` : '';
  return (
    <p class="records">
      <label>
        <span class="label">Use</span>{' '}
        <select
          class="noprint"
          value={at}
          onChange={(e) => {
            const [column, value] = e.currentTarget.value.split('\0');
            sheet.chooseRecords(value === undefined ? null : { column, value });
          }}
        >
          <option value="">all records</option>
          {choices.map((c) => (
            <optgroup key={c.column} label={c.column}>
              {c.values.map((v) => (
                <option key={v} value={`${c.column}\0${v}`}>
                  {c.column} = {v}
                </option>
              ))}
            </optgroup>
          ))}
        </select>
      </label>
      <span class="printonly">{where ? `${where.column} = ${where.value}` : 'all records'}</span>
    </p>
  );
}

function Columns({ sheet, map, names }: { sheet: Sheet; map: MapSummary; names: readonly string[] }) {
  const [all, setAll] = useState(false);
  const used = ROLES.filter((r) => map.columns[r] || sheet.inputs.columns[r]);
  const roles = all ? ROLES : used;
  if (names.length === 0) return null;
  return (
    <>
      <h3>What each column was read as</h3>
      {used.length === 0 && !all && (
        <p>No column was needed: the shapes of the records show everything on this sheet.</p>
      )}
      {roles.length > 0 && (
        <Scroll name="Columns">
          <table class="columns">
            <thead>
              <tr>
                <th scope="col">Meaning</th>
                <th scope="col">Column</th>
                <th scope="col">Evidence</th>
              </tr>
            </thead>
            <tbody>
              {roles.map((role) => (
                <ColumnRow key={role} role={role} map={map} names={names} sheet={sheet} />
              ))}
            </tbody>
          </table>
        </Scroll>
      )}
      {!all && used.length < ROLES.length && (
        <p class="noprint after-table">
          <button type="button" class="plain" onClick={() => setAll(true)}>
            Name another column
          </button>
        </p>
      )}
    </>
  );
}

function ColumnRow({
  role,
  map,
  names,
  sheet,
}: {
  role: Role;
  map: MapSummary;
  names: readonly string[];
  sheet: Sheet;
}) {
  const found = map.columns[role];
  const chosen = sheet.inputs.columns[role] ?? '';
  return (
    <tr>
      <th scope="row">{ROLE_WORDS[role]}</th>
      <td>
        <span class="printonly">{chosen || found?.name || 'none'}</span>
        <select
          class="noprint"
          aria-label={`Column for ${ROLE_WORDS[role].toLowerCase()}`}
          value={chosen}
          onChange={(e) => sheet.chooseColumn(role, e.currentTarget.value)}
        >
          <option value="">{chosen ? 'as found' : found ? `${found.name} (as found)` : 'none found'}</option>
          {names.map((n) => (
            <option key={n} value={n}>
              {n}
            </option>
          ))}
        </select>
      </td>
      <td>
        {found ? found.evidence : '—'}
        {found?.unit && !found.evidence.includes(` in ${found.unit} `) && ` (in ${found.unit})`}
      </td>
    </tr>
  );
}

function sizeText(bytes: number): string {
  return bytes < 1e6 ? `${Math.max(1, Math.round(bytes / 1e3))} kB` : `${(bytes / 1e6).toFixed(1)} MB`;
}
