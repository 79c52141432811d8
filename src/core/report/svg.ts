/** The drawings of a written report, as SVG. Places come from the same functions as those of the page. */
import type { Answer, Report } from '../answer.ts';
import { layoutOf, runName } from '../planter/index.ts';
import type { Planter, RowRun, RuleBreak } from '../planter/types.ts';
import { fieldPicture } from './fieldpicture.ts';
import { joinEdges, SAME_M } from './joins.ts';
import { type Markup, markup } from './markup.ts';
import { clockText, countText, distanceText, gapNumber, gapText, lengthOr, lengthText, signedGap } from './numbers.ts';
import { rulersOf, type Stretch } from './rulers.ts';
import { onScale, seamChartOf, seamMark } from './seamchart.ts';
import { timelineOf } from './timeline.ts';

/** Width of a drawing on A4 or Letter, pixels. */
const PAPER = 740;

/** A drawing at true size that scrolls where the screen is narrower, and what it shows. */
function figure(name: string, width: number, height: number, says: string, inner: Markup, caption: string): Markup {
  return markup`<figure><div class="scroll" role="region" tabindex="0" aria-label="${name}"><svg width="${width}" height="${height}" viewBox="0 0 ${width} ${height}" role="img" aria-label="${says}">${inner}</svg></div><figcaption>${caption}</figcaption></figure>
`;
}

/** The frame facing travel: rows, planted ones filled, sections as brackets, drives above. */
export function svgFrame(planter: Planter, planting: string, breaks: readonly RuleBreak[]): Markup {
  const layout = layoutOf(planter, planting);
  const planted = new Set(layout.rows);
  const broken = new Set(
    breaks.flatMap((b) => (b.planting === undefined || b.planting === planting ? b.sections : [])),
  );
  const side = 24;
  const w = Math.max(PAPER, planter.rows * 27 + 2 * side);
  const pitch = Math.min((w - 2 * side) / planter.rows, 60);
  const x = (row: number): number => w / 2 + (row - (planter.rows + 1) / 2) * pitch;
  const perMetre = pitch / planter.rowSpacingM;
  const left = w / 2 + (layout.centreM - layout.workingWidthM / 2) * perMetre;
  const right = left + layout.workingWidthM * perMetre;
  const rows = Array.from({ length: planter.rows }, (_, i) => i + 1);
  const drive = (d: RowRun, i: number): Markup => {
    const long = `drive ${i + 1}: rows ${runName(d)}`;
    const word = long.length <= (x(d.last) - x(d.first) + pitch) / 9 ? long : `${i + 1}`;
    return markup`<path class="drive" d="M${x(d.first) - pitch * 0.4} 34H${x(d.last) + pitch * 0.4}"/><text x="${(x(d.first) + x(d.last)) / 2}" y="24" text-anchor="middle">${word}</text>${i > 0 ? markup`<path class="driveline" d="M${(x(d.first) + x(d.first - 1)) / 2} 14V138"/>` : null}`;
  };
  const inner = markup`${planter.drives.map(drive)}<path class="bar" d="M${x(1) - pitch * 0.45} 52H${x(planter.rows) + pitch * 0.45}"/>${rows.map(
    (r) =>
      markup`<g class="${planted.has(r) ? 'row planted' : 'row'}"><path d="M${x(r)} 52V60"/><path class="unit" d="M${x(r) - 6} 60h12v12l-6 9l-6-9z"/><text x="${x(r)}" y="101" text-anchor="middle">${r}</text></g>`,
  )}${planter.sections.map(
    (s, i) =>
      markup`<g class="${broken.has(i + 1) ? 'section broken' : 'section'}"><path d="M${x(s.first) - pitch * 0.4} 109v8H${x(s.last) + pitch * 0.4}v-8"/><text x="${(x(s.first) + x(s.last)) / 2}" y="134" text-anchor="middle">${broken.has(i + 1) ? `${i + 1} !` : `${i + 1}`}</text></g>`,
  )}<path class="span" d="M${left} 148v12M${right} 148v12M${left} 154H${right}"/><text x="${Math.min(Math.max((left + right) / 2, 150), w - 150)}" y="178" text-anchor="middle">working width ${lengthText(layout.workingWidthM, planter.unit)}</text>`;
  const says = `${countText(planter.rows, 'row')} at ${gapText(planter.rowSpacingM, planter.unit)}; planted in "${planting}": rows ${layout.rows.join(', ')}. Sections: ${planter.sections.map(runName).join('; ')}.`;
  return figure(
    'Drawing of the frame',
    w,
    188,
    says,
    inner,
    `Seen from behind, facing travel: row 1 is the leftmost. Filled rows plant in "${planting}", hollow rows stand idle; the brackets are the sections.${planter.drives.length > 1 ? ' The broken upright line is where one drive ends and the next begins.' : ''}${broken.size > 0 ? ' A section marked "!" breaks a rule of a sound layout.' : ''}`,
  );
}

/** Declared bands above, recorded below, on one scale; edges that differ are joined. */
export function svgRulers(report: Report, planter: Planter): Markup {
  const { unit } = planter;
  const rulers = rulersOf(report, unit);
  const joins = joinEdges(report, unit);
  const side = 76;
  const [up, down, thick, height] = [46, 158, 46, 254];
  const w = Math.max(PAPER, Math.max(rulers.declared.length, rulers.recorded.length) * 46 + 2 * side);
  const x = (m: number): number => w / 2 + (m * (w - 2 * side)) / (2 * rulers.reachM);
  const off = joins.filter((j) => Math.abs(j.offM) >= SAME_M);
  const bands = (list: readonly Stretch[], y: number, kind: string): Markup =>
    markup`<g class="${kind}">${list.map((t, i) => {
      const mid = (x(t.leftM) + x(t.rightM)) / 2;
      return markup`<rect class="${i % 2 ? 'band other' : 'band'}" x="${x(t.leftM)}" y="${y}" width="${Math.max(1, x(t.rightM) - x(t.leftM))}" height="${thick}"/><text x="${mid}" y="${y + 20}" text-anchor="middle">${t.label}</text><text x="${mid}" y="${y + 38}" text-anchor="middle">${gapNumber(t.rightM - t.leftM, unit)}</text>`;
    })}</g>`;
  const holes = rulers.recorded.slice(1).flatMap((t, i) => {
    const leftM = rulers.recorded[i].rightM;
    return t.leftM - leftM > SAME_M ? [{ leftM, rightM: t.leftM }] : [];
  });
  const inner = markup`<text class="strong" x="${side}" y="${up - 26}">declared: ${lengthText(report.declared.workingWidthM, unit)}</text>${bands(rulers.declared, up, 'declared')}${joins.map(
    (j) => {
      const differs = Math.abs(j.offM) >= SAME_M;
      const b = x(j.recordedM);
      return markup`<path class="${differs ? 'join differs' : 'join'}" d="M${x(j.declaredM)} ${up + thick}L${b} ${down}"/>${differs ? markup`<path class="dot" d="M${b - 4} ${down - 4}h8v8h-8z"/>` : null}`;
    },
  )}${off
    .filter((j) => j.outer)
    .map(
      (j) =>
        markup`<text class="off" x="${x(Math.sign(j.recordedM) * rulers.reachM) + (j.recordedM < 0 ? -8 : 8)}" y="${(up + thick + down) / 2 + 5}" text-anchor="${j.recordedM < 0 ? 'end' : 'start'}">${signedGap(j.offM, unit)}</text>`,
    )}${
    rulers.recorded.length > 0
      ? bands(rulers.recorded, down, 'recorded')
      : markup`<text x="${w / 2}" y="${down + 28}" text-anchor="middle">this map does not tell the width that was recorded</text>`
  }${holes.map((h) => {
    const mid = (x(h.leftM) + x(h.rightM)) / 2;
    return markup`<rect class="hole" x="${x(h.leftM)}" y="${down}" width="${x(h.rightM) - x(h.leftM)}" height="${thick}"/><text class="off" x="${mid}" y="${down + 20}" text-anchor="middle">none</text><text class="off" x="${mid}" y="${down + 38}" text-anchor="middle">${gapNumber(h.rightM - h.leftM, unit)}</text>`;
  })}<text class="strong blue" x="${side}" y="${down + thick + 34}">recorded: ${lengthOr(report.recorded.workingWidthM, unit)}</text><path class="middle" d="M${x(0)} ${up - 12}V${down + thick + 12}"/>`;
  const says = `Declared working width ${lengthText(report.declared.workingWidthM, unit)} in ${countText(rulers.declared.length, 'section')}; recorded ${lengthOr(report.recorded.workingWidthM, unit)} in ${report.recorded.sections.length || 'no'} sections. ${off.length === 0 ? 'Every edge lies where it was declared.' : `${countText(off.length, 'edge')} elsewhere than declared.`}`;
  return figure(
    'The two rulers',
    w,
    height,
    says,
    inner,
    `Across the planter, facing travel, laid middle on middle. In each band: its rows (declared) or its number (recorded), and its width in ${unit === 'in' ? 'inches' : 'centimetres'}. Heavy lines with a square join edges that lie elsewhere; numbers beside the outer ones tell how far, + to the right.${holes.length > 0 ? ' "None" marks a strip that no section recorded.' : ''}`,
  );
}

/** One mark for each seam in planting order, with the tolerance as a band; null when none was measured. */
export function svgSeams({ report, evidence, planter }: Answer): Markup | null {
  const { unit } = planter;
  const c = seamChartOf(report, evidence, unit);
  if (c.seams.length === 0) return null;
  const [side, top, plot] = [64, 16, 200];
  const height = top + plot + 50;
  // On paper marks may touch; a wider chart would only shrink its text.
  const w = Math.max(PAPER, Math.min(c.seams.length * 12 + 2 * side, 2400));
  const x = (i: number): number => side + ((i + 0.5) / c.seams.length) * (w - side - 20);
  const y = (m: number): number => top + plot / 2 - (onScale(m, c.reachM) / c.reachM) * (plot / 2);
  const inner = markup`<rect class="tolerance" x="${side}" y="${y(c.toleranceM)}" width="${w - side - 20}" height="${y(-c.toleranceM) - y(c.toleranceM)}"/>${c.gridM.map(
    (m) =>
      markup`<path class="grid" d="M${side} ${y(m)}H${w - 20}"/><text x="${side - 8}" y="${y(m) + 5}" text-anchor="end">${gapNumber(m, unit).replace('-', '\u2212')}</text>`,
  )}${c.seams.map(
    (s, i) =>
      markup`<g><title>Pass ${s.passA} and ${s.passB}: planted ${signedGap(s.plantedM, unit)}, recorded ${signedGap(s.recordedM, unit)}</title><path class="stem" d="M${x(i)} ${y(s.recordedM)}V${y(s.plantedM)}"/><circle class="asrecorded" cx="${x(i)}" cy="${y(s.recordedM)}" r="7"/><path class="asplanted" d="${seamMark(s, Math.round(x(i) * 10) / 10, Math.round(y(s.plantedM) * 10) / 10)}"/></g>`,
  )}<text class="quiet" x="${side}" y="${height - 12}">${c.axis}</text>`;
  return figure('Chart of the seams', w, height, c.says, inner, c.caption);
}

/** Recorded width and sections, bar after bar; null without bars. */
export function svgTimeline(answer: Answer): Markup | null {
  const t = timelineOf(answer);
  if (t === null) return null;
  const { unit } = answer.planter;
  const [side, top, plot, gap] = [64, 26, 90, 44];
  const seesSections = answer.report.recorded.sections.length > 0;
  const second = top + plot + gap;
  const foot = seesSections ? second + plot : top + plot;
  const height = foot + 44;
  const w = PAPER;
  const x = (bar: number): number => side + (bar / t.bars) * (w - side - 20);
  const panel = (y0: number, reach: number, value: (i: number) => [number, number], kind: string): Markup => {
    const y = (v: number): string => `${Math.round((y0 + plot - (v / reach) * plot) * 10) / 10}`;
    const outline = (k: 0 | 1): string =>
      `M${side} ${y0 + plot}${t.stretches.map((s, i) => `V${y(value(i)[k])}H${Math.round(x(s.to) * 10) / 10}`).join('')}V${y0 + plot}Z`;
    return markup`<path class="most ${kind}" d="${outline(1)}"/><path class="least ${kind}" d="${outline(0)}"/><path class="axisline" d="M${side} ${y0}V${y0 + plot}H${w - 20}"/>`;
  };
  const level = (y0: number, part: number, word: string): Markup =>
    markup`<path class="declaredline" d="M${side} ${y0 + plot - part * plot}H${w - 20}"/><text x="${side - 8}" y="${y0 + plot - part * plot + 5}" text-anchor="end">${word}</text>`;
  const every = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000].find((n) => t.passes.length / n <= 12) ?? 5000;
  const ticks = t.passes
    .filter((p) => p.number === 1 || p.number % every === 0)
    .filter((p, i, all) => i === 0 || x(p.bar) - x(all[i - 1].bar) > 34);
  const timed = t.passes.filter((p) => p.startMs !== null);
  const when =
    timed.length > 1
      ? `; pass ${timed[0].number} began ${clockText(timed[0].startMs ?? 0)}, pass ${timed[timed.length - 1].number} ${clockText(timed[timed.length - 1].startMs ?? 0)} on the map's clock`
      : '';
  const inner = markup`<text class="strong" x="${side}" y="${top - 8}">recorded width: ${lengthOr(answer.report.recorded.workingWidthM, unit)} as a rule, ${lengthText(t.declaredM, unit)} declared</text>${panel(top, t.reachM, (i) => [t.stretches[i].narrowestM, t.stretches[i].widestM], 'width')}${level(top, t.declaredM / t.reachM, gapNumber(t.declaredM, unit))}${
    seesSections
      ? markup`<text class="strong" x="${side}" y="${second - 8}">sections that recorded: ${answer.report.recorded.sections.length} as a rule, ${t.declaredSections} declared</text>${panel(second, t.reachSections, (i) => [t.stretches[i].fewestSections, t.stretches[i].mostSections], 'sections')}${level(second, t.declaredSections / t.reachSections, `${t.declaredSections}`)}`
      : null
  }${ticks.map((p) => markup`<path class="tick" d="M${x(p.bar)} ${foot}v6"/><text x="${x(p.bar)}" y="${foot + 20}" text-anchor="middle">${p.number}</text>`)}<text class="quiet" x="${side}" y="${height - 6}">passes in planting order</text>`;
  const widest = t.stretches.reduce((m, s) => Math.max(m, s.widestM), 0);
  return figure(
    'Time line',
    w,
    height,
    `Recorded width over ${countText(t.bars, 'bar')}: at most ${lengthText(widest, unit)}, declared ${lengthText(t.declaredM, unit)}.`,
    inner,
    `Bar after bar in planting order. Dark: what every bar of a stretch recorded; light on top: what some did. The broken line is what is declared${when}.`,
  );
}

/** The field from above, north up; null when the map covers no ground. */
export function svgField(answer: Answer): Markup | null {
  const f = fieldPicture(answer, PAPER, 820);
  if (f === null) return null;
  const { unit } = answer.planter;
  const one = unit === 'in' ? 0.3048 : 1;
  const steps = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000];
  const scale = [...steps].reverse().find((s) => s * one * f.pixelsPerMetre <= 180) ?? 1;
  const bar = scale * one * f.pixelsPerMetre;
  const height = f.height + 40;
  const of = (kind: string): string =>
    f.seams
      .filter((s) => s.kind === kind)
      .map((s) => s.path)
      .join('');
  const inner = markup`<defs><clipPath id="gaps"><path clip-rule="evenodd" d="${f.gaps}"/></clipPath><clipPath id="laps"><path clip-rule="evenodd" d="${f.overlap}"/></clipPath></defs><path class="ground" fill-rule="evenodd" d="${f.covered}"/><path class="track" d="${f.tracks.map((t) => t.path).join('')}"/><path class="lap" fill-rule="evenodd" d="${f.overlap}"/><path class="lapbars" clip-path="url(#laps)" d="${slants(f.width, f.height)}"/><path class="open" fill-rule="evenodd" d="${f.gaps}"/><path class="gapdots" clip-path="url(#gaps)" d="${dots(f.width, f.height)}"/><path class="seamgap" d="${of('gap')}"/><path class="seamlap" d="${of('overlap')}"/>${f.boundary === '' ? '' : markup`<path class="boundary" d="${f.boundary}"/>`}${f.tracks
    .filter((t) => t.pass > 0)
    .map(
      (t) => markup`<text class="passno" x="${t.x}" y="${t.y + 5}" text-anchor="middle">${t.pass}</text>`,
    )}<path class="scalebar" d="M14 ${height - 26}v8H${14 + bar}v-8"/><text x="${22 + bar}" y="${height - 16}">${`${scale} ${unit === 'in' ? 'ft' : 'm'}`}</text><text x="${f.width - 14}" y="${height - 16}" text-anchor="end">north is up</text>`;
  const count = (kind: string): number => f.seams.filter((s) => s.kind === kind).length;
  const legend = markup`<ul class="legend"><li>${swatch('track')}track of a pass, with its number where it begins</li><li>${swatch('open', 'gapdots', dots(24, 13))}gap in the recorded map (dots)</li><li>${swatch('lap', 'lapbars', 'M4 15L18 1M12 15L25 2M1 10L10 1')}overlap in the recorded map (slanted bars)</li><li>${swatch('seamgap')}seam left open on the ground: ${count('gap')} (unbroken)</li><li>${swatch('seamlap')}seam planted twice on the ground: ${count('overlap')} (broken)</li>${f.boundary === '' ? '' : markup`<li>${swatch('boundary')}field boundary, as given</li>`}</ul>
`;
  const shown = figure(
    'Map of the field',
    f.width,
    height,
    `The field from above: ${countText(f.tracks.length, 'pass', 'passes')}, ${countText(f.seams.length, 'seam')} outside the tolerance.`,
    inner,
    `Ground under at least one record is tinted. Lines are drawn to ${distanceText(1 / f.pixelsPerMetre, unit)} or finer; narrow strips are drawn at least one line wide.${f.tooSmall > 0 ? ` ${countText(f.tooSmall, 'spot')} of gap or overlap too small to draw.` : ''}`,
  );
  return markup`${shown}${legend}`;
}

/** Marks over a whole drawing, to be clipped to what they mark. As lines, because printers turn repeated patterns into pixels. */
function slants(width: number, height: number): string {
  let out = '';
  for (let x = 0; x < width + height; x += 7) out += `M${x} 0L${x - height} ${height}`;
  return out;
}

/** Level lines, drawn as dots by their dashes. */
function dots(width: number, height: number): string {
  let out = '';
  for (let y = 4; y < height; y += 5) out += `M2 ${y}H${width}`;
  return out;
}

function swatch(kind: string, marks = '', d = 'M1 8H25'): Markup {
  return marks === ''
    ? markup`<svg width="26" height="16" viewBox="0 0 26 16" aria-hidden="true"><path class="${kind}" d="${d}"/></svg>`
    : markup`<svg width="26" height="16" viewBox="0 0 26 16" aria-hidden="true"><path class="${kind}" d="M1 1H25V15H1Z"/><path class="${marks}" d="${d}"/></svg>`;
}
