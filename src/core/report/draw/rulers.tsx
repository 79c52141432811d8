/** @jsxImportSource preact */
import type { Report } from '../../answer.ts';
import type { Planter } from '../../planter/types.ts';
import { type Join, joinEdges, SAME_M } from '../joins.ts';
import { seenFrom } from '../labels.ts';
import { place } from '../markup.ts';
import { countText, gapNumber, lengthOr, lengthText, signedGap } from '../numbers.ts';
import { type Rulers, rulersOf, type Stretch, shownMachine } from '../rulers.ts';
import { type Choosing, Figure, onChoose } from './figure.tsx';

const SIDE = 76;
const BAND_MIN = 46;
const UP = 46;
const DOWN = 158;
const THICK = 46;
const HEIGHT = 296;

interface Props {
  report: Report;
  planter: Planter;
  /** Room, pixels; many bands take more. */
  width: number;
  choice?: Choosing;
}

/** The declared bands above, the recorded bands below, on one scale; edges that differ are joined by marked lines. */
export function TwoRulers({ report, planter, width, choice }: Props) {
  const { unit } = planter;
  const rulers = rulersOf(report, unit);
  const machine = shownMachine(report);
  const whose = machine.name === '' ? '' : ` (${machine.name})`;
  const joins = joinEdges(report, unit);
  const off = joins.filter((j) => Math.abs(j.offM) >= SAME_M);
  const open = holes(rulers.recorded);
  const w = Math.max(width, Math.max(rulers.declared.length, rulers.recorded.length) * BAND_MIN + 2 * SIDE);
  const x = (m: number): number => w / 2 + (m * (w - 2 * SIDE)) / (2 * rulers.reachM);
  const middle = place(x(0));
  return (
    <Figure
      name="The two rulers"
      kind={choice?.marks.rulers ? 'rulers marked' : 'rulers'}
      width={w}
      height={HEIGHT}
      says={inWords(machine, rulers, off.length, unit)}
      caption={captionOf(machine, seenFrom(report), open.length > 0, unit)}
    >
      <text x={SIDE} y={UP - 26} class="caption">
        {`declared${whose}: ${lengthText(machine.declared.workingWidthM, unit)}`}
      </text>
      <Bands bands={rulers.declared} x={x} y={UP} unit={unit} kind="declared" />
      <Joins joins={joins} x={x} reachM={rulers.reachM} unit={unit} />
      {rulers.recorded.length > 0 ? (
        <Bands bands={rulers.recorded} x={x} y={DOWN} unit={unit} kind="recorded" {...(choice ? { choice } : {})} />
      ) : (
        <text x={place(w / 2)} y={DOWN + 28} text-anchor="middle">
          this map does not show the width that was recorded
        </text>
      )}
      <Holes holes={open} x={x} unit={unit} />
      <text x={SIDE} y={DOWN + THICK + 34} class="caption">
        {`recorded${whose}: ${lengthOr(machine.recorded.workingWidthM, unit)}`}
      </text>
      <Scale rulers={rulers} x={x} />
      <path
        class="middle"
        d={`M${middle} ${UP - 12}V${UP}M${middle} ${UP + THICK}V${DOWN}M${middle} ${DOWN + THICK}v12`}
      />
    </Figure>
  );
}

type Shown = ReturnType<typeof shownMachine>;

function inWords({ declared, recorded }: Shown, rulers: Rulers, off: number, unit: Planter['unit']): string {
  return (
    `Declared working width ${lengthText(declared.workingWidthM, unit)} in ${countText(rulers.declared.length, 'section')}; ` +
    `recorded ${lengthOr(recorded.workingWidthM, unit)} in ${recorded.sections.length === 0 ? 'no sections' : countText(recorded.sections.length, 'section')}. ` +
    (off === 0 ? 'Every edge lies where it was declared.' : `${countText(off, 'edge')} not where declared.`)
  );
}

function captionOf({ declared: { centerM } }: Shown, seen: string, open: boolean, unit: Planter['unit']): string {
  return (
    `Across the planter, ${seen}; both rulers are centered. Each section shows its rows (declared) or its number (recorded), ` +
    `and its width in ${unit === 'in' ? 'inches' : 'centimeters'}. Heavy lines with a square join edges that are not where declared; ` +
    'numbers beside the outer ones give the distance, + to the right.' +
    (open ? ' "None" marks a strip that no section recorded.' : '') +
    (Math.abs(centerM) > 1e-6
      ? ` The middle of the declared rows lies ${lengthText(Math.abs(centerM), unit)} to the ${centerM > 0 ? 'right' : 'left'} of the frame's own middle.`
      : '')
  );
}

/** Strips between recorded bands that no section recorded. */
function holes(bands: readonly Stretch[]): { leftM: number; rightM: number }[] {
  return bands.slice(1).flatMap((t, i) => {
    const leftM = bands[i].rightM;
    return t.leftM - leftM > SAME_M ? [{ leftM, rightM: t.leftM }] : [];
  });
}

interface Across {
  /** Pixels from the left of a place across travel, meters. */
  x(m: number): number;
  unit: Planter['unit'];
}

interface BandsProps extends Across {
  bands: readonly Stretch[];
  y: number;
  kind: 'declared' | 'recorded';
  choice?: Choosing;
}

function Bands({ bands, x, y, unit, kind, choice }: BandsProps) {
  return (
    <g class={kind}>
      {bands.map((t, i) => {
        const mid = place((x(t.leftM) + x(t.rightM)) / 2);
        return (
          <g
            key={t.leftM}
            class={`band${i % 2 ? ' other' : ''}${choice?.marks.sections.has(i) ? ' chosen' : ''}`}
            {...onChoose(choice, { kind: 'section', section: i })}
          >
            <rect x={place(x(t.leftM))} y={y} width={place(Math.max(1, x(t.rightM) - x(t.leftM)))} height={THICK} />
            <text x={mid} y={y + 20} text-anchor="middle">
              {t.label}
            </text>
            <text x={mid} y={y + 38} text-anchor="middle">
              {gapNumber(t.rightM - t.leftM, unit)}
            </text>
          </g>
        );
      })}
    </g>
  );
}

/** Lines from declared to recorded edges, and beside the outer ones how far they are off. */
function Joins({ joins, x, reachM, unit }: Across & { joins: readonly Join[]; reachM: number }) {
  const differs = (j: Join): boolean => Math.abs(j.offM) >= SAME_M;
  return (
    <>
      {joins.map((j) => (
        <g key={`${j.declaredM} ${j.recordedM}`} class={differs(j) ? 'join differs' : 'join'}>
          <path d={`M${place(x(j.declaredM))} ${UP + THICK}L${place(x(j.recordedM))} ${DOWN}`} />
          {differs(j) && <path class="dot" d={`M${place(x(j.recordedM) - 4)} ${DOWN - 4}h8v8h-8z`} />}
        </g>
      ))}
      {joins
        .filter((j) => j.outer && differs(j))
        .map((j) => (
          <text
            key={j.recordedM}
            class="off"
            x={place(x(Math.sign(j.recordedM) * reachM) + (j.recordedM < 0 ? -8 : 8))}
            y={(UP + THICK + DOWN) / 2 + 5}
            text-anchor={j.recordedM < 0 ? 'end' : 'start'}
          >
            {signedGap(j.offM, unit)}
          </text>
        ))}
    </>
  );
}

function Holes({ holes, x, unit }: Across & { holes: readonly { leftM: number; rightM: number }[] }) {
  return (
    <>
      {holes.map((h) => {
        const mid = place((x(h.leftM) + x(h.rightM)) / 2);
        return (
          <g key={h.leftM} class="hole">
            <rect x={place(x(h.leftM))} y={DOWN} width={place(x(h.rightM) - x(h.leftM))} height={THICK} />
            <text x={mid} y={DOWN + 20} text-anchor="middle">
              none
            </text>
            <text x={mid} y={DOWN + 38} text-anchor="middle">
              {gapNumber(h.rightM - h.leftM, unit)}
            </text>
          </g>
        );
      })}
    </>
  );
}

function Scale({ rulers, x }: Pick<Across, 'x'> & { rulers: Rulers }) {
  const y = HEIGHT - 34;
  const marks = rulers.ticks.map((t) => `M${place(x(t.atM))} ${y}v6`).join('');
  return (
    <g class="scale">
      <path d={`M${place(x(-rulers.reachM))} ${y}H${place(x(rulers.reachM))}${marks}`} />
      {rulers.ticks.map((t) => (
        <text key={t.atM} x={place(x(t.atM))} y={HEIGHT - 12} text-anchor="middle">
          {t.atM === 0 ? `0 ${rulers.tickUnit}` : t.label}
        </text>
      ))}
    </g>
  );
}
