import { useState } from 'preact/hooks';
import type { ProposedPlanter } from '../../core/planter/index.ts';
import type { Unit } from '../../core/planter/types.ts';
import { areaText, countText, distanceText, FORMAT_WORDS, gapText, lengthText } from '../../core/report/index.ts';
import { type KeptPlanter, type Looked, planterFileName, type Sheet } from '../state/index.ts';
import { FileButton } from './filepick.tsx';
import { EXAMPLE } from './planterform.tsx';

/** The unit of what is proposed for a map; where nothing is, that of its answer. */
const unitOf = ({ proposals, answer }: Looked): Unit => proposals[0]?.file.unit ?? answer.planter.unit;

/** A map without a planter: which planter it may be compared with. */
export function MapWithoutPlanter({ look, sheet }: { look: Looked; sheet: Sheet }) {
  const { map, recorded } = look.answer.report;
  const unit = unitOf(look);
  const width = recorded.workingWidthM;
  const sections = recorded.sections.length;
  return (
    <div class="alone">
      <p class="cause">
        {map.source} shows {width === null ? 'no working width' : `a working width of ${lengthText(width, unit)}`}
        {sections > 1 && ` in ${sections} sections`}.{' '}
        {sheet.inputs.planter ? 'Describe its planter below, then check.' : 'Which planter recorded it?'}
      </p>
      {sheet.inputs.planter === null && <WhichPlanter look={look} sheet={sheet} unit={unit} />}
    </div>
  );
}

/** What a map shows on its own. */
export function AlonePart({ look }: { look: Looked }) {
  const { report } = look.answer;
  const { map, area, account } = report;
  const unit = unitOf(look);
  const gaps = account.filter((l) => l.picture === 'recorded' && l.fact !== 'width');
  const seen = gaps.some((l) => l.cause === 'setting');
  return (
    <section class="part field" id="alone" aria-labelledby="alone-title">
      <h2 id="alone-title">What the map shows on its own</h2>
      <dl class="facts abreast">
        <dt>File</dt>
        <dd>
          {map.source}, {FORMAT_WORDS[map.format]}, {countText(map.records, 'record')}
        </dd>
        <dt>Driven</dt>
        <dd>
          {countText(map.passes, 'pass', 'passes')}, {distanceText(map.travelM, unit)}
        </dd>
        <dt>Columns</dt>
        <dd>{look.columns.length === 0 ? 'none' : look.columns.join(', ')}</dd>
        {look.machines.length > 1 && (
          <>
            <dt>Machines</dt>
            <dd>{look.machines.join(', ')}</dd>
          </>
        )}
        <dt>Covered</dt>
        <dd>{areaText(area.coveredM2, unit)}</dd>
        <dt>Gaps</dt>
        <dd>{areaText(area.gapM2, unit)} lies open between covered ground</dd>
        <dt>Overlaps</dt>
        <dd>{areaText(area.overlapM2, unit)} is covered twice or more</dd>
      </dl>
      {gaps.length > 0 && (
        <p class="quiet">
          They are marked on the map. {seen ? 'Causes that the map does not show need' : 'Their causes need'} the
          planter.
        </p>
      )}
    </section>
  );
}

/** "8 sections of 60 in over 40 ft: 16 rows at 30 in" */
function inWords({ file, rows, rowSpacingM, sectionsFit }: ProposedPlanter, look: Looked): string {
  const { recorded } = look.answer.report;
  const widths = recorded.sections.map((s) => gapText(s.rightM - s.leftM, file.unit));
  const same = new Set(widths).size === 1 ? ` of ${widths[0]}` : '';
  const seen = sectionsFit ? `${widths.length} sections${same} over ` : '';
  const width = recorded.workingWidthM === null ? '' : lengthText(recorded.workingWidthM, file.unit);
  return `${seen}${width}: ${rows} rows at ${gapText(rowSpacingM, file.unit)}?`;
}

function WhichPlanter({ look, sheet, unit }: { look: Looked; sheet: Sheet; unit: Unit }) {
  const { proposals, machines } = look;
  const [at, setAt] = useState(0);
  const proposal = proposals[at];
  const isOf = (k: KeptPlanter): boolean => (k.machines ?? []).some((m) => machines.includes(m));
  const kept = [...sheet.kept.planters].sort((a, b) => Number(isOf(b)) - Number(isOf(a)));
  const take = (edit: boolean): void => {
    if (!proposal) return;
    const text = JSON.stringify(proposal.file, null, 2);
    if (edit) sheet.editPlanter(text, text);
    else sheet.openPlanter(planterFileName(proposal.file.name), text, 'map');
  };
  return (
    <div class="which noprint">
      {kept.map((k) => (
        <p key={k.name}>
          <button type="button" class="button" onClick={() => sheet.openPlanter(k.fileName, k.text, 'kept')}>
            {k.name}
          </button>{' '}
          {isOf(k)
            ? `kept here, the planter of ${k.machines?.filter((m) => machines.includes(m)).join(', ')}`
            : 'kept in this browser'}
        </p>
      ))}
      {proposal ? (
        <p>
          <span>{inWords(proposal, look)}</span>
          <button type="button" class={kept.length > 0 ? 'plain' : 'button'} onClick={() => take(false)}>
            Use {proposal.rows} rows at {gapText(proposal.rowSpacingM, unit)}
          </button>
          <button type="button" class="plain" onClick={() => take(true)}>
            Change it first
          </button>
          {proposals.length > 1 && (
            <select
              class="inline"
              aria-label="Other rows that fit the map"
              value=""
              onChange={(e) => setAt(Number(e.currentTarget.value))}
            >
              <option value="" disabled>
                Other rows that fit
              </option>
              {proposals.map((p, i) =>
                i === at ? null : (
                  <option key={p.file.name} value={String(i)}>
                    {p.rows} rows at {gapText(p.rowSpacingM, p.file.unit)}
                  </option>
                ),
              )}
            </select>
          )}
          <OwnPlanter sheet={sheet} />
        </p>
      ) : (
        <p>
          <button type="button" class="button" onClick={() => sheet.editPlanter(EXAMPLE)}>
            Describe the planter
          </button>{' '}
          No usual row spacing fits what the map shows.
          <OwnPlanter sheet={sheet} />
        </p>
      )}
    </div>
  );
}

function OwnPlanter({ sheet }: { sheet: Sheet }) {
  return <FileButton id="own-planter-file" label="Open a planter file" accept=".json" open={sheet.openFiles} />;
}
