/** @jsxImportSource preact */

import type { Answer } from '../../answer.ts';
import { INCH_M } from '../../planter/units.ts';
import { clockText } from '../../shared/dates.ts';
import { place } from '../markup.ts';
import { countText, gapText, lengthOr, lengthText, signedGap } from '../numbers.ts';
import type { Column, Series } from '../series.ts';
import { type Choosing, Figure, onChoose } from './figure.tsx';

const SIDE = 76;
const END = 16;
/** The label of the axis, above the plot. */
const TOP = 50;
const PLOT = 130;
const ROW = 18;
const PASSES = TOP + PLOT + 24;
const UNDER = PASSES + 30;
/** The scale is never finer than this, meters: smaller differences do not matter. */
const LEAST_REACH_M = 0.1;

/** Columns of bars with their places on paper. */
interface Placed {
  columns: readonly Column[];
  starts: readonly number[];
  ends: readonly number[];
}

interface Props {
  answer: Answer;
  series: Series;
  /** Room, pixels. */
  width: number;
  choice?: Choosing;
}

/**
 * What the sections of a bar recorded together, as its difference from the declared working width, bar after bar, and below it when each section
 * recorded: a change shows as a step, a dropout as a hole.
 */
export function TimeLine({ answer, series, width, choice }: Props) {
  const { unit } = answer.planter;
  const { columns, slots } = series;
  if (columns.length === 0) return <p>The map holds no bars that could be laid out in the order of planting.</p>;
  const bars = columns.reduce((n, c) => n + c.bars, 0);
  const w = Math.max(width, 300);
  const declaredM = answer.report.declared.workingWidthM;
  const placed = placedOn(columns, (w - SIDE - END) / bars);
  const passes = passSpans(placed);
  const off = columns.map((c) => c.widthM - declaredM);
  const chosen = choice ? { choice } : {};
  return (
    <Figure
      name="Time line"
      kind="timeline"
      width={w}
      height={UNDER + (slots > 0 ? slots * ROW + 12 : -18)}
      says={
        `Sum of the section widths over ${countText(bars, 'bar')} of ${countText(passes.length, 'pass', 'passes')} in planting order, ` +
        `as its difference from the declared working width of ${lengthText(declaredM, unit)}` +
        (slots > 0 ? `, and when each of ${slots} recorded sections was on.` : '.')
      }
      caption={captionOf(answer, series)}
    >
      <PassBands answer={answer} passes={passes} height={UNDER + slots * ROW - TOP} {...chosen} />
      <text class="caption" x={4} y={16}>
        sum of section widths,
      </text>
      <text class="caption" x={4} y={34}>
        difference from declared
      </text>
      <Differences placed={placed} off={off} reachM={scaleOf(off, unit)} declaredM={declaredM} w={w} unit={unit} />
      <text class="axis" x={SIDE - 8} y={PASSES - 6} text-anchor="end">
        pass
      </text>
      {slots > 0 && (
        <text class="caption" x={4} y={UNDER - 8}>
          sections that recorded, from the left
        </text>
      )}
      {Array.from({ length: slots }, (_, s) => (
        <Slot key={s} slot={s} placed={placed} w={w} {...chosen} />
      ))}
      {slots > 0 && <path class="elsewhere" d={elsewhere(placed, slots * ROW)} />}
    </Figure>
  );
}

function captionOf({ evidence }: Answer, { columns, slots }: Series): string {
  const timed = evidence.passes.filter((p) => p.startMs !== null);
  const [first, last] = [timed[0], timed[timed.length - 1]];
  return (
    'Heavy line: the widths of the sections that recorded, added up; vertical strokes where they vary.' +
    (slots > 0
      ? ' Below it, a row for each section. Full height: it recorded; half height: part of the time; empty: it did not.'
      : '') +
    (slots > 0 && columns.some((c) => c.elsewhere >= HALF)
      ? ' Vertical hatching: something was recorded, but not in these sections.'
      : '') +
    (timed.length > 1
      ? ` Pass ${first.number} began on ${clockText(first.startMs ?? 0)}, pass ${last.number} on ${clockText(last.startMs ?? 0)}, by the map's clock.`
      : '')
  );
}

function placedOn(columns: readonly Column[], perBar: number): Placed {
  const starts: number[] = [];
  let at = 0;
  for (const c of columns) {
    starts.push(SIDE + at * perBar);
    at += c.bars;
  }
  return { columns, starts, ends: columns.map((c, i) => starts[i] + c.bars * perBar) };
}

/** A round number of inches or centimeters that nearly all columns lie within; single bars of a turn may lie beyond. */
function scaleOf(off: readonly number[], unit: Answer['planter']['unit']): number {
  const sizes = off.map(Math.abs).sort((a, b) => a - b);
  const most = Math.max(LEAST_REACH_M, 1.2 * (sizes[Math.floor(0.95 * (sizes.length - 1))] ?? 0));
  const one = unit === 'in' ? INCH_M : 0.01;
  return one * ([4, 10, 20, 40, 60, 100, 200, 400, 1000].find((n) => n * one >= most) ?? 2000);
}

interface DifferencesProps {
  placed: Placed;
  off: readonly number[];
  reachM: number;
  declaredM: number;
  w: number;
  unit: Answer['planter']['unit'];
}

/** The upper drawing: the axis in inches or centimeters, the declared width as its zero, the recorded one as a line. */
function Differences({ placed: { columns, starts, ends }, off, reachM, declaredM, w, unit }: DifferencesProps) {
  const y = (m: number): number => TOP + PLOT / 2 - (Math.max(-reachM, Math.min(reachM, m)) / reachM) * (PLOT / 2);
  const line = off.map((m, i) => `${i === 0 ? `M${place(starts[i])} ` : 'V'}${place(y(m))}H${place(ends[i])}`).join('');
  const range = columns
    .map((c, i) => {
      if (c.mostM - c.leastM <= 0.01 * declaredM) return '';
      const x = place((starts[i] + ends[i]) / 2);
      return `M${x} ${place(y(c.leastM - declaredM))}V${place(y(c.mostM - declaredM))}`;
    })
    .join('');
  const beyond = off.filter((m) => Math.abs(m) > reachM).length;
  return (
    <>
      {[reachM, reachM / 2, 0, -reachM / 2, -reachM].map((m) => (
        <g key={m} class="grid">
          <path class={m === 0 ? 'declared' : 'axisline'} d={`M${SIDE} ${place(y(m))}H${w - END}`} />
          <text class="axis" x={SIDE - 8} y={place(y(m) + 5)} text-anchor="end">
            {signedGap(m, unit)}
          </text>
        </g>
      ))}
      <path class="range" d={range} />
      <path class="width" d={line} />
      <text class="label" x={w - END - 4} y={place(y(0) - 6)} text-anchor="end">
        {`declared ${gapText(declaredM, unit)}`}
      </text>
      {beyond > 0 && (
        <text class="axis" x={w - END} y={TOP - 10} text-anchor="end">
          {w > 560 ? `${countText(beyond, 'stretch', 'stretches')} beyond the scale` : ''}
        </text>
      )}
    </>
  );
}

interface Span {
  pass: number;
  from: number;
  to: number;
}

interface PassBandsProps {
  answer: Answer;
  passes: readonly Span[];
  height: number;
  choice?: Choosing;
}

function PassBands({ answer, passes, height, choice }: PassBandsProps) {
  return (
    <>
      {passes.map((p, i) => (
        <g
          key={p.pass}
          class={`pass${i % 2 ? ' other' : ''}${choice?.marks.passes.has(p.pass) ? ' chosen' : ''}`}
          data-pass={p.pass}
          {...onChoose(choice, { kind: 'pass', pass: p.pass })}
        >
          <title>{passSays(answer, p.pass)}</title>
          <rect x={place(p.from)} y={TOP} width={place(Math.max(0.5, p.to - p.from))} height={height} />
        </g>
      ))}
      <PassNumbers passes={passes} />
    </>
  );
}

/** Numbers of the passes, as many as there is room for: over all bands, because one is often wider than its own. */
function PassNumbers({ passes }: { passes: readonly Span[] }) {
  let free = 0;
  return (
    <g class="passnumbers">
      {passes.map((p) => {
        const middle = (p.from + p.to) / 2;
        const half = 4.5 * String(p.pass).length + 3;
        if (middle - half < free) return null;
        free = middle + half;
        return (
          <text key={p.pass} x={place(middle)} y={PASSES - 6} text-anchor="middle">
            {p.pass}
          </text>
        );
      })}
    </g>
  );
}

function Slot({ slot, placed, w, choice }: { slot: number; placed: Placed; w: number; choice?: Choosing }) {
  const y = UNDER + slot * ROW;
  return (
    <g
      class={choice?.marks.sections.has(slot) ? 'slot chosen' : 'slot'}
      data-section={slot + 1}
      {...onChoose(choice, { kind: 'section', section: slot })}
    >
      <rect class="rail" x={SIDE} y={y + 3} width={w - SIDE - END} height={ROW - 6} />
      <path class="on" d={runs(placed, slot, 0.999, y + 3)} />
      <path class="part" d={runs(placed, slot, 0.001, y + 3)} />
      <text x={SIDE - 8} y={y + 14} text-anchor="end">
        {slot + 1}
      </text>
    </g>
  );
}

/** A column is hatched from this share of its bars. */
const HALF = 0.5;

/** Upright strokes over the columns whose bars lie in no section. */
function elsewhere({ columns, starts, ends }: Placed, height: number): string {
  let d = '';
  columns.forEach((c, i) => {
    if (c.elsewhere < HALF) return;
    for (let x = Math.ceil(starts[i] / 6) * 6; x < ends[i]; x += 6) d += `M${place(x)} ${UNDER + 1}v${height - 2}`;
  });
  return d;
}

function passSpans({ columns, starts, ends }: Placed): Span[] {
  const out: Span[] = [];
  columns.forEach((c, i) => {
    const last = out[out.length - 1];
    if (last?.pass === c.pass) last.to = ends[i];
    else out.push({ pass: c.pass, from: starts[i], to: ends[i] });
  });
  return out;
}

/** Bars of the rail where the section was on: for more than `least` of the bars; those of all bars full height, the others half. */
function runs({ columns, starts, ends }: Placed, slot: number, least: number, y: number): string {
  const full = least > 0.5;
  const is = (i: number): boolean =>
    full ? columns[i].on[slot] >= least : columns[i].on[slot] >= least && columns[i].on[slot] < 0.999;
  let d = '';
  for (let i = 0; i < columns.length; i++) {
    if (!is(i)) continue;
    let j = i;
    while (j + 1 < columns.length && is(j + 1)) j++;
    const [top, h] = full ? [y, ROW - 6] : [y + (ROW - 6) / 2, (ROW - 6) / 2];
    d += `M${place(starts[i])} ${place(top)}H${place(ends[j])}v${h}H${place(starts[i])}z`;
    i = j;
  }
  return d;
}

function passSays({ evidence, planter }: Answer, pass: number): string {
  const p = evidence.passes.find((x) => x.number === pass);
  if (!p) return `Pass ${pass}`;
  const when = p.startMs === null ? '' : `, started ${clockText(p.startMs)}`;
  return `Pass ${pass}: ${countText(p.bars, 'bar')}, ${lengthOr(p.recordedWidthM, planter.unit)} wide${when}`;
}
