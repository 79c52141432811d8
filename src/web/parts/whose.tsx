import type { Report } from '../../core/answer.ts';
import { layoutOf } from '../../core/planter/index.ts';
import type { Planter } from '../../core/planter/types.ts';
import { lengthText } from '../../core/report/index.ts';
import { isGuess, type KeptPlanter, readState, type Sheet } from '../state/index.ts';
import { showLine } from './inputs.tsx';

/** A verdict is only as good as its planter: where the user did not choose planter and planting for this map, a note beside the verdict says so. */
export function WhosePlanter({ sheet, planter, report }: { sheet: Sheet; planter: Planter; report: Report }) {
  const { kept, planter: given } = sheet.inputs;
  if (isGuess(given)) return <Guessed sheet={sheet} planter={planter} fromBefore={kept.includes('planter')} />;
  const fromBefore = kept.includes('planter');
  if (!fromBefore && (given?.from === 'sample' || !isFarOff(planter, report))) return null;
  return (
    <div class="note whose">
      {fromBefore && <FromBefore sheet={sheet} planter={planter} />}
      <OtherPlanter sheet={sheet} planter={planter} report={report} />
    </div>
  );
}

/** What stays to be done before a verdict on a guessed planter means anything. */
export const COUNT_ROWS =
  'Count the rows on the frame, measure the spacing between two of them, and see which rows each section switches. Then correct the planter and check again.';

function Guessed({ sheet, planter, fromBefore }: { sheet: Sheet; planter: Planter; fromBefore: boolean }) {
  return (
    <div class="note whose warn">
      <p>
        <b>
          “{planter.name}” was guessed from {fromBefore ? 'the map before this one' : 'this same map'}, not from the
          machine.
        </b>{' '}
        {fromBefore
          ? 'If that display was set wrong, so is this planter.'
          : 'It has what the display believed, right or wrong, so that the map fits it proves little.'}{' '}
        {COUNT_ROWS}{' '}
        <button type="button" class="plain noprint" onClick={() => changePlanter(sheet)}>
          Correct the planter
        </button>{' '}
        <button type="button" class="plain noprint" onClick={sheet.confirmPlanter}>
          I counted: it is right
        </button>
      </p>
    </div>
  );
}

/** Opens the form of the planter on the sheet. */
function changePlanter({ editPlanter, inputs }: Sheet): void {
  if (inputs.planter) editPlanter(inputs.planter.text);
  showLine('planter');
}

/** Names what stayed from the previous map, and offers the other plantings. */
function FromBefore({ sheet, planter }: { sheet: Sheet; planter: Planter }) {
  const { kept, planting } = sheet.inputs;
  const both = kept.includes('planting');
  const others = both ? planter.plantings.filter((p) => p.name !== planting) : [];
  return (
    <p>
      {both
        ? `Compared with “${planter.name}”, planted “${planting}”: planter and planting are those of the previous map. If one of them is another here, change it below.`
        : `Compared with “${planter.name}”, the planter of the previous map. If another planter recorded this map, change it below.`}{' '}
      {others.map((p) => (
        <button type="button" class="quietbutton noprint" key={p.name} onClick={() => sheet.choosePlanting(p.name)}>
          It was {p.name}
        </button>
      ))}
    </p>
  );
}

/** Where the map fits a planter of this browser, or does not fit the one of the map before, that may be why. */
function OtherPlanter({ sheet, planter, report }: { sheet: Sheet; planter: Planter; report: Report }) {
  const { workingWidthM } = report.recorded;
  if (workingWidthM === null || report.machines.length > 1 || fitOf(planter, report) === 'whole') return null;
  const better = sheet.kept.planters.filter((k) => {
    const other = readState(k.text, k.fileName).planter;
    return other && k.name !== planter.name && fitOf(other, report) === 'whole';
  });
  const says = `The map records ${lengthText(workingWidthM, planter.unit)}${report.recorded.sections.length > 1 ? ` in ${report.recorded.sections.length} sections` : ''}`;
  if (better.length > 0)
    return (
      <p class="otherplanter">
        <b>This looks like the map of another planter.</b> {says}, which fits{' '}
        {better.map((k, i) => (
          <span key={k.name}>
            {i > 0 && ' or '}
            <Use sheet={sheet} kept={k} />
          </span>
        ))}
        .
      </p>
    );
  if (fitOf(planter, report) !== 'none') return null;
  return (
    <p class="otherplanter">
      <b>This may be the map of another planter.</b> {says}; no planting of “{planter.name}” is that wide.{' '}
      <button type="button" class="plain noprint" onClick={() => showLine('planter')}>
        Choose another planter
      </button>
    </p>
  );
}

function Use({ sheet, kept }: { sheet: Sheet; kept: KeptPlanter }) {
  return (
    <button type="button" class="plain noprint" onClick={() => sheet.openPlanter(kept.fileName, kept.text, 'kept')}>
      Use {kept.name}
    </button>
  );
}

/** Rounding of the display and noise of the positions, meters; a row more or less is several times that. */
const SAME_WIDTH_M = 0.06;

/** From here on a width is rather that of another machine than one of a wrong setting: a frame of eight rows that is set to ten, or six. */
const OTHER_WIDTH = 0.25;

/** Neither the width of any planting nor the number of sections is near that of the map: the planter may not be the one that recorded it. */
function isFarOff(planter: Planter, { recorded, machines }: Report): boolean {
  const width = recorded.workingWidthM;
  if (width === null || machines.length > 1 || recorded.sections.length === 0) return false;
  const off = planter.plantings.every(
    (p) => Math.abs(layoutOf(planter, p.name).workingWidthM / width - 1) > OTHER_WIDTH,
  );
  return off && planter.sectionsDeclared && planter.sections.length !== recorded.sections.length;
}

/** Whether a planting of the planter is as wide as the map, and has as many sections too where both show them. */
function fitOf(planter: Planter, { recorded }: Report): 'whole' | 'width' | 'none' {
  const wide = planter.plantings.some(
    (p) => Math.abs(layoutOf(planter, p.name).workingWidthM - (recorded.workingWidthM ?? 0)) < SAME_WIDTH_M,
  );
  if (!wide) return 'none';
  const sections = recorded.sections.length;
  return sections < 2 || !planter.sectionsDeclared || planter.sections.length === sections ? 'whole' : 'width';
}
