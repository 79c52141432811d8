import type { Report } from '../../core/answer.ts';
import type { Planter } from '../../core/planter/types.ts';
import {
  gapNumber,
  type Join,
  joinEdges,
  lengthOr,
  lengthText,
  rulersOf,
  SAME_M,
  type Stretch,
  signedGap,
} from '../../core/report/index.ts';
import { Scroll } from '../parts/scroll.tsx';
import type { Choice } from '../selection.ts';
import { useWidth } from './width.ts';

const SIDE = 76;
const BAND_MIN = 46;
const UP = 46;
const DOWN = 158;
const THICK = 46;
const HEIGHT = 296;

/** The declared bands above, the recorded bands below, on one scale; edges that differ are joined by marked lines. */
export function TwoRulers({ report, planter, choice }: { report: Report; planter: Planter; choice?: Choice }) {
  const [ref, width] = useWidth(900);
  const { unit } = planter;
  const rulers = rulersOf(report, unit);
  const joins = joinEdges(report, unit);
  const count = Math.max(rulers.declared.length, rulers.recorded.length);
  const w = Math.max(width, count * BAND_MIN + 2 * SIDE);
  const scale = (w - 2 * SIDE) / (2 * rulers.reachM);
  const x = (m: number): number => w / 2 + m * scale;
  const off = joins.filter((j) => Math.abs(j.offM) >= SAME_M);
  const { workingWidthM } = report.recorded;
  const says =
    `Declared working width ${lengthText(report.declared.workingWidthM, unit)} in ${rulers.declared.length} sections; ` +
    `recorded ${lengthOr(workingWidthM, unit)} in ${report.recorded.sections.length || 'no'} sections. ` +
    (off.length === 0 ? 'Every edge lies where it was declared.' : `${off.length} edges lie elsewhere.`);
  return (
    <figure class="drawing">
      <Scroll name="The two rulers" inner={ref}>
        <svg
          width={w}
          height={HEIGHT}
          viewBox={`0 0 ${w} ${HEIGHT}`}
          role="img"
          aria-label={says}
          class={choice?.marks.rulers ? 'rulers marked' : 'rulers'}
        >
          <text x={x(-rulers.reachM)} y={UP - 26} class="caption">
            {`declared: ${lengthText(report.declared.workingWidthM, unit)}`}
          </text>
          <Bands ticks={rulers.declared} x={x} y={UP} unit={unit} kind="declared" />
          {joins.map((j) => (
            <JoinLine key={`${j.declaredM} ${j.recordedM}`} join={j} x={x} />
          ))}
          {off
            .filter((j) => j.outer)
            .map((j) => (
              <text
                key={j.recordedM}
                class="off"
                x={x(Math.sign(j.recordedM) * rulers.reachM) + (j.recordedM < 0 ? -8 : 8)}
                y={(UP + THICK + DOWN) / 2 + 5}
                text-anchor={j.recordedM < 0 ? 'end' : 'start'}
              >
                {signedGap(j.offM, unit)}
              </text>
            ))}
          {rulers.recorded.length > 0 ? (
            <Bands ticks={rulers.recorded} x={x} y={DOWN} unit={unit} kind="recorded" {...(choice ? { choice } : {})} />
          ) : (
            <text x={w / 2} y={DOWN + 28} text-anchor="middle">
              this map does not tell the width that was recorded
            </text>
          )}
          {holes(rulers.recorded).map((h) => (
            <g key={h.leftM} class="hole">
              <rect x={x(h.leftM)} y={DOWN} width={x(h.rightM) - x(h.leftM)} height={THICK} />
              <text x={(x(h.leftM) + x(h.rightM)) / 2} y={DOWN + 20} text-anchor="middle">
                none
              </text>
              <text x={(x(h.leftM) + x(h.rightM)) / 2} y={DOWN + 38} text-anchor="middle">
                {gapNumber(h.rightM - h.leftM, unit)}
              </text>
            </g>
          ))}
          <text x={x(-rulers.reachM)} y={DOWN + THICK + 34} class="caption">
            {`recorded: ${lengthOr(workingWidthM, unit)}`}
          </text>
          <g class="scale">
            <path
              d={`M${x(-rulers.reachM)} ${HEIGHT - 34}H${x(rulers.reachM)}${rulers.ticks.map((t) => `M${x(t.atM)} ${HEIGHT - 34}v6`).join('')}`}
            />
            {rulers.ticks.map((t) => (
              <text key={t.atM} x={x(t.atM)} y={HEIGHT - 12} text-anchor="middle">
                {t.atM === 0 ? `0 ${rulers.tickUnit}` : t.label}
              </text>
            ))}
          </g>
          <path
            class="middle"
            d={`M${x(0)} ${UP - 12}V${UP}M${x(0)} ${UP + THICK}V${DOWN}M${x(0)} ${DOWN + THICK}V${DOWN + THICK + 12}`}
          />
        </svg>
      </Scroll>
      <figcaption>
        Across the planter, facing travel, laid middle on middle. In each band: its rows (declared) or its number
        (recorded), and its width in {unit === 'in' ? 'inches' : 'centimetres'}. Marked lines join edges that lie
        elsewhere; numbers beside the outer ones tell how far, + to the right.
        {holes(rulers.recorded).length > 0 && ' "None" marks a strip that no section recorded.'}
        {Math.abs(report.declared.centreM) > 1e-6 &&
          ` The middle of the declared rows lies ${lengthText(Math.abs(report.declared.centreM), unit)} to the ${report.declared.centreM > 0 ? 'right' : 'left'} of the frame's own middle.`}
      </figcaption>
    </figure>
  );
}

/** Strips between recorded bands that no section recorded. */
function holes(ticks: readonly Stretch[]): { leftM: number; rightM: number }[] {
  return ticks.slice(1).flatMap((t, i) => {
    const leftM = ticks[i].rightM;
    return t.leftM - leftM > SAME_M ? [{ leftM, rightM: t.leftM }] : [];
  });
}

interface BandsProps {
  ticks: readonly Stretch[];
  x(m: number): number;
  y: number;
  unit: Planter['unit'];
  kind: 'declared' | 'recorded';
  choice?: Choice;
}

function Bands({ ticks, x, y, unit, kind, choice }: BandsProps) {
  return (
    <g class={kind}>
      {ticks.map((t, i) => {
        const mid = (x(t.leftM) + x(t.rightM)) / 2;
        return (
          <g
            key={t.leftM}
            class={`band${i % 2 ? ' other' : ''}${choice?.marks.sections.has(i) ? ' chosen' : ''}`}
            {...(choice ? { onClick: () => choice.choose({ kind: 'section', section: i }) } : {})}
          >
            <rect x={x(t.leftM)} y={y} width={Math.max(1, x(t.rightM) - x(t.leftM))} height={THICK} />
            <text x={mid} y={y + 20} text-anchor="middle">
              {t.label}
            </text>
            <text x={mid} y={y + 38} text-anchor="middle" class="small">
              {gapNumber(t.rightM - t.leftM, unit)}
            </text>
          </g>
        );
      })}
    </g>
  );
}

function JoinLine({ join, x }: { join: Join; x(m: number): number }) {
  const differs = Math.abs(join.offM) >= SAME_M;
  const a = x(join.declaredM);
  const b = x(join.recordedM);
  return (
    <g class={differs ? 'join differs' : 'join'}>
      <path d={`M${a} ${UP + THICK}L${b} ${DOWN}`} />
      {differs && <path class="dot" d={`M${b - 4} ${DOWN - 4}h8v8h-8z`} />}
    </g>
  );
}
