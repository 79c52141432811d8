import { layoutOf, runName } from '../../core/planter/index.ts';
import type { Planter, RowRun, RuleBreak } from '../../core/planter/types.ts';
import { gapText, lengthText } from '../../core/report/index.ts';
import { Scroll } from '../parts/scroll.tsx';
import { useWidth } from './width.ts';

const SIDE = 26;
const ROW_MIN = 27;
const HEIGHT = 188;

/** The frame seen from behind, facing travel: rows as ticks, planted rows filled, sections as brackets, drives above with the line between them. */
export function Frame({
  planter,
  planting,
  breaks,
}: {
  planter: Planter;
  planting: string;
  breaks: readonly RuleBreak[];
}) {
  const [ref, width] = useWidth(900);
  const layout = layoutOf(planter, planting);
  const planted = new Set(layout.rows);
  const broken = new Set(
    breaks.flatMap((b) => (b.planting === undefined || b.planting === planting ? b.sections : [])),
  );
  const need = planter.rows * ROW_MIN + 2 * SIDE;
  const w = Math.max(width, need);
  const pitch = Math.min((w - 2 * SIDE) / planter.rows, 62);
  const x = (row: number): number => w / 2 + (row - (planter.rows + 1) / 2) * pitch;
  const perMetre = pitch / planter.rowSpacingM;
  const left = w / 2 + (layout.centreM - layout.workingWidthM / 2) * perMetre;
  const right = left + layout.workingWidthM * perMetre;
  const rows = Array.from({ length: planter.rows }, (_, i) => i + 1);
  const says =
    `${planter.rows} rows at ${gapText(planter.rowSpacingM, planter.unit)}; planted in "${planting}": rows ${layout.rows.join(', ')}. ` +
    `Sections: ${planter.sections.map(runName).join('; ')}. Drives: ${planter.drives.map(runName).join('; ')}.`;
  return (
    <figure class="drawing">
      <Scroll name="Drawing of the frame" inner={ref}>
        <svg width={w} height={HEIGHT} viewBox={`0 0 ${w} ${HEIGHT}`} role="img" aria-label={says}>
          {planter.drives.map((d, i) => (
            <g key={runName(d)} class="drive">
              <path d={`M${x(d.first) - pitch * 0.4} 34H${x(d.last) + pitch * 0.4}`} />
              <text x={(x(d.first) + x(d.last)) / 2} y={24} text-anchor="middle">
                {driveWord(d, i, (x(d.last) - x(d.first) + pitch) / 9)}
              </text>
              {i > 0 && <path class="driveline" d={`M${(x(d.first) + x(d.first - 1)) / 2} 14V120`} />}
            </g>
          ))}
          <path class="bar" d={`M${x(1) - pitch * 0.45} 52H${x(planter.rows) + pitch * 0.45}`} />
          {rows.map((r) => (
            <g key={r} class={planted.has(r) ? 'row planted' : 'row'}>
              <path d={`M${x(r)} 52V60`} />
              <path class="unit" d={`M${x(r) - 6} 60h12v12l-6 9l-6-9z`} />
              <text x={x(r)} y={101} text-anchor="middle">
                {r}
              </text>
            </g>
          ))}
          {planter.sections.map((s, i) => (
            <g key={runName(s)} class={broken.has(i + 1) ? 'section broken' : 'section'}>
              <path d={`M${x(s.first) - pitch * 0.4} 109v8H${x(s.last) + pitch * 0.4}v-8`} />
              <text x={(x(s.first) + x(s.last)) / 2} y={134} text-anchor="middle">
                {broken.has(i + 1) ? `${i + 1} !` : i + 1}
              </text>
            </g>
          ))}
          <g class="span">
            <path d={`M${left} 148v12M${right} 148v12M${left} 154H${right}`} />
            <text x={Math.min(Math.max((left + right) / 2, 150), w - 150)} y={178} text-anchor="middle">
              {`working width ${lengthText(layout.workingWidthM, planter.unit)}`}
            </text>
          </g>
        </svg>
      </Scroll>
      <figcaption>
        Seen from behind, facing travel: row 1 is the leftmost. Filled rows plant in "{planting}", hollow rows stand
        idle; the brackets are the sections.
        {planter.drives.length > 1 && ' The broken upright line is where one drive ends and the next begins.'}
        {broken.size > 0 && ' A section marked "!" breaks a rule of a sound layout.'}
      </figcaption>
    </figure>
  );
}

function driveWord(d: RowRun, i: number, fits: number): string {
  const long = `drive ${i + 1}: rows ${runName(d)}`;
  return long.length <= fits ? long : `${i + 1}`;
}
