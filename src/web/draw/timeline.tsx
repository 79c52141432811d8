import type { Answer } from '../../core/answer.ts';
import { clockText, countText, lengthOr, lengthText } from '../../core/report/index.ts';
import type { Series } from '../../worker/series.ts';
import { Scroll } from '../parts/scroll.tsx';
import type { Choice } from '../selection.ts';
import { useWidth } from './width.ts';

const SIDE = 76;
const END = 16;
const TOP = 14;
const PLOT = 110;
const ROW = 18;
const UNDER = TOP + PLOT + 24;

/** Recorded width along the planting, bar after bar, and below it when each section recorded: a change shows as a step, a dropout as a hole. */
export function TimeLine({ answer, series, choice }: { answer: Answer; series: Series; choice: Choice }) {
  const { report, planter } = answer;
  const { unit } = planter;
  const [ref, width] = useWidth(900);
  const { columns, slots } = series;
  if (columns.length === 0) return <p>The map holds no bars that could be laid out in the order of planting.</p>;
  const bars = columns.reduce((n, c) => n + c.bars, 0);
  const w = Math.max(width, 360);
  const height = UNDER + slots * ROW + 40;
  const declared = report.declared.workingWidthM;
  const top = 1.15 * Math.max(declared, ...columns.map((c) => c.mostM));
  const perBar = (w - SIDE - END) / bars;
  const y = (m: number): number => TOP + PLOT * (1 - m / top);
  const starts: number[] = [];
  let at = 0;
  for (const c of columns) {
    starts.push(SIDE + at * perBar);
    at += c.bars;
  }
  const end = (i: number): number => starts[i] + columns[i].bars * perBar;
  const line = columns.map((c, i) => `${i === 0 ? 'M' : 'L'}${r(starts[i])} ${r(y(c.widthM))}H${r(end(i))}`).join('');
  const range = columns
    .filter((c) => c.mostM - c.leastM > 0.01 * declared)
    .map((c) => {
      const i = columns.indexOf(c);
      const x = r((starts[i] + end(i)) / 2);
      return `M${x} ${r(y(c.leastM))}V${r(y(c.mostM))}`;
    })
    .join('');
  const passes = passSpans(columns, starts, end);
  const says =
    `Recorded width over ${countText(bars, 'bar')} of ${countText(passes.length, 'pass', 'passes')} in planting order, ` +
    `against ${lengthText(declared, unit)} declared` +
    (slots > 0 ? `, and when each of ${slots} recorded sections was on.` : '.');
  return (
    <figure class="drawing">
      <Scroll name="Time line" inner={ref}>
        <svg width={w} height={height} viewBox={`0 0 ${w} ${height}`} role="img" aria-label={says} class="timeline">
          {passes.map((p, i) => (
            // biome-ignore lint/a11y/noStaticElementInteractions: the table of passes offers the same choice to the keyboard.
            <g
              key={p.pass}
              class={`pass${i % 2 ? ' other' : ''}${choice.marks.passes.has(p.pass) ? ' chosen' : ''}`}
              data-pass={p.pass}
              onClick={() => choice.choose({ kind: 'pass', pass: p.pass })}
            >
              <title>{passSays(answer, p.pass)}</title>
              <rect x={p.from} y={TOP} width={Math.max(0.5, p.to - p.from)} height={UNDER + slots * ROW - TOP} />
              {p.to - p.from > 9 * String(p.pass).length + 6 && (
                <text x={(p.from + p.to) / 2} y={UNDER - 6} text-anchor="middle">
                  {p.pass}
                </text>
              )}
            </g>
          ))}
          <path class="declared" d={`M${SIDE} ${r(y(declared))}H${w - END}`} />
          <text class="axis" x={SIDE - 8} y={y(declared) + 5} text-anchor="end">
            {short(lengthText(declared, unit))}
          </text>
          <text class="axis" x={SIDE - 8} y={y(0) + 4} text-anchor="end">
            {`0 ${unit === 'in' ? 'ft' : 'm'}`}
          </text>
          <path class="axisline" d={`M${SIDE} ${y(0)}H${w - END}`} />
          <path class="range" d={range} />
          <path class="width" d={line} />
          {Array.from({ length: slots }, (_, s) => (
            // biome-ignore lint/a11y/noStaticElementInteractions: the buttons of the recorded sections offer the same choice to the keyboard.
            <g
              key={s}
              class={choice.marks.sections.has(s) ? 'slot chosen' : 'slot'}
              data-section={s + 1}
              onClick={() => choice.choose({ kind: 'section', section: s })}
            >
              <rect class="rail" x={SIDE} y={UNDER + s * ROW + 3} width={w - SIDE - END} height={ROW - 6} />
              <path class="on" d={runs(columns, starts, end, s, 0.999, UNDER + s * ROW + 3)} />
              <path class="part" d={runs(columns, starts, end, s, 0.001, UNDER + s * ROW + 3)} />
              <text x={SIDE - 8} y={UNDER + s * ROW + 14} text-anchor="end">
                {s + 1}
              </text>
            </g>
          ))}
          {slots > 0 && <path class="elsewhere" d={elsewhere(columns, starts, end, UNDER, slots * ROW)} />}
          <text class="axis" x={SIDE} y={height - 12}>
            {slots > 0 ? 'passes in planting order; below, sections from the left' : 'passes in planting order'}
          </text>
        </svg>
      </Scroll>
      <figcaption>
        Heavy line: width recorded, bar after bar; upright strokes where bars of one column differ. Broken line: the
        declared working width.
        {slots > 0 && ' Solid rails: the section recorded; half-high: in part of the bars; bare: it did not.'}
        {slots > 0 &&
          columns.some((c) => c.elsewhere >= HALF) &&
          ' Upright hatching: recorded, but in other bands than these sections.'}
      </figcaption>
    </figure>
  );
}

/** From this part of its bars on, a column is hatched. */
const HALF = 0.5;

/** Upright strokes over the columns whose bars lie in no section. */
function elsewhere(
  columns: readonly { elsewhere: number }[],
  starts: readonly number[],
  end: (i: number) => number,
  y: number,
  height: number,
): string {
  let d = '';
  columns.forEach((c, i) => {
    if (c.elsewhere < HALF) return;
    for (let x = Math.ceil(starts[i] / 6) * 6; x < end(i); x += 6) d += `M${x} ${y + 1}v${height - 2}`;
  });
  return d;
}

const r = (v: number): string => v.toFixed(1);

/** "18.75 ft (225 in)" without what stands in brackets. */
function short(length: string): string {
  return length.replace(/ \(.*/, '');
}

function passSpans(columns: readonly { pass: number }[], starts: readonly number[], end: (i: number) => number) {
  const out: { pass: number; from: number; to: number }[] = [];
  columns.forEach((c, i) => {
    const last = out[out.length - 1];
    if (last?.pass === c.pass) last.to = end(i);
    else out.push({ pass: c.pass, from: starts[i], to: end(i) });
  });
  return out;
}

/** Bars of the rail where the section was on: for more than `least` of the bars; those of all bars full height, the others half. */
function runs(
  columns: readonly { on: Float32Array }[],
  starts: readonly number[],
  end: (i: number) => number,
  slot: number,
  least: number,
  y: number,
): string {
  const full = least > 0.5;
  const is = (i: number): boolean =>
    full ? columns[i].on[slot] >= least : columns[i].on[slot] >= least && columns[i].on[slot] < 0.999;
  let d = '';
  for (let i = 0; i < columns.length; i++) {
    if (!is(i)) continue;
    let j = i;
    while (j + 1 < columns.length && is(j + 1)) j++;
    const [top, h] = full ? [y, ROW - 6] : [y + (ROW - 6) / 2, (ROW - 6) / 2];
    d += `M${r(starts[i])} ${r(top)}H${r(end(j))}v${h}H${r(starts[i])}z`;
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
