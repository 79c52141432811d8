/** @jsxImportSource preact */
import { layoutOf, runName } from '../../planter/index.ts';
import type { Planter, RowRun, RuleBreak } from '../../planter/types.ts';
import { place } from '../markup.ts';
import { countText, gapText, lengthText } from '../numbers.ts';
import { Figure } from './figure.tsx';

const SIDE = 26;
const ROW_MIN = 27;
const HEIGHT = 188;

interface Props {
  planter: Planter;
  planting: string;
  breaks: readonly RuleBreak[];
  /** Room, pixels; many rows take more. */
  width: number;
}

/** The frame seen from behind, facing travel: rows as ticks, planted rows filled, sections as brackets, drives above with the line between them. */
export function Frame({ planter, planting, breaks, width }: Props) {
  const layout = layoutOf(planter, planting);
  const broken = new Set(
    breaks.flatMap((b) => (b.planting === undefined || b.planting === planting ? b.sections : [])),
  );
  const w = Math.max(width, planter.rows * ROW_MIN + 2 * SIDE);
  const pitch = Math.min((w - 2 * SIDE) / planter.rows, 62);
  const across: Across = { pitch, x: (row) => w / 2 + (row - (planter.rows + 1) / 2) * pitch };
  const perMeter = pitch / planter.rowSpacingM;
  const left = w / 2 + (layout.centerM - layout.workingWidthM / 2) * perMeter;
  const right = left + layout.workingWidthM * perMeter;
  const says =
    `${countText(planter.rows, 'row')} at ${gapText(planter.rowSpacingM, planter.unit)}; planted in "${planting}": rows ${layout.rows.join(', ')}. ` +
    `Sections: ${planter.sections.map(runName).join('; ')}. Drives: ${planter.drives.map(runName).join('; ')}.`;
  const caption =
    `Seen from behind, facing travel: row 1 is the leftmost. Filled rows plant in "${planting}", hollow rows are idle; the brackets are the sections.` +
    (planter.drives.length > 1 ? ' The broken upright line is where one drive ends and the next begins.' : '') +
    (broken.size > 0 ? ' A section marked "!" breaks a rule of a sound layout.' : '');
  return (
    <Figure name="Drawing of the frame" kind="frame" width={w} height={HEIGHT} says={says} caption={caption}>
      <Drives drives={planter.drives} across={across} />
      <Rows count={planter.rows} planted={new Set(layout.rows)} across={across} />
      <Sections sections={planter.sections} broken={broken} across={across} />
      <g class="span">
        <path d={`M${place(left)} 148v12M${place(right)} 148v12M${place(left)} 154H${place(right)}`} />
        <text x={place(Math.min(Math.max((left + right) / 2, 150), w - 150))} y={178} text-anchor="middle">
          {`working width ${lengthText(layout.workingWidthM, planter.unit)}`}
        </text>
      </g>
    </Figure>
  );
}

/** Places of rows across the drawing, pixels. */
interface Across {
  pitch: number;
  x(row: number): number;
}

function Drives({ drives, across: { x, pitch } }: { drives: readonly RowRun[]; across: Across }) {
  return (
    <>
      {drives.map((d, i) => (
        <g key={runName(d)} class="drive">
          <path d={`M${place(x(d.first) - pitch * 0.4)} 34H${place(x(d.last) + pitch * 0.4)}`} />
          <text x={place((x(d.first) + x(d.last)) / 2)} y={24} text-anchor="middle">
            {driveWord(d, i, (x(d.last) - x(d.first) + pitch) / 9)}
          </text>
          {i > 0 && <path class="driveline" d={`M${place((x(d.first) + x(d.first - 1)) / 2)} 14V120`} />}
        </g>
      ))}
    </>
  );
}

function driveWord(d: RowRun, i: number, fits: number): string {
  const long = `drive ${i + 1}: rows ${runName(d)}`;
  return long.length <= fits ? long : `${i + 1}`;
}

function Rows({ count, planted, across: { x, pitch } }: { count: number; planted: Set<number>; across: Across }) {
  return (
    <>
      <path class="bar" d={`M${place(x(1) - pitch * 0.45)} 52H${place(x(count) + pitch * 0.45)}`} />
      {Array.from({ length: count }, (_, i) => i + 1).map((r) => (
        <g key={r} class={planted.has(r) ? 'row planted' : 'row'}>
          <path d={`M${place(x(r))} 52V60`} />
          <path class="unit" d={`M${place(x(r) - 6)} 60h12v12l-6 9l-6-9z`} />
          <text x={place(x(r))} y={101} text-anchor="middle">
            {r}
          </text>
        </g>
      ))}
    </>
  );
}

interface SectionsProps {
  sections: readonly RowRun[];
  /** Numbers of those that break a rule. */
  broken: ReadonlySet<number>;
  across: Across;
}

function Sections({ sections, broken, across: { x, pitch } }: SectionsProps) {
  return (
    <>
      {sections.map((s, i) => (
        <g key={runName(s)} class={broken.has(i + 1) ? 'section broken' : 'section'}>
          <path d={`M${place(x(s.first) - pitch * 0.4)} 109v8H${place(x(s.last) + pitch * 0.4)}v-8`} />
          <text x={place((x(s.first) + x(s.last)) / 2)} y={134} text-anchor="middle">
            {broken.has(i + 1) ? `${i + 1} !` : i + 1}
          </text>
        </g>
      ))}
    </>
  );
}
