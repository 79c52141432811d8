/** @jsxImportSource preact */
import type { Answer } from '../../answer.ts';
import { type FieldPicture, fieldPicture } from '../fieldpicture.ts';
import { place } from '../markup.ts';
import { countText, distanceText } from '../numbers.ts';
import { Figure } from './figure.tsx';

/** Greatest height of the picture, pixels: it shares a page of paper with its caption. */
const MOST_HIGH = 820;

/** The field from above, north up, with its key. */
export function FieldAbove({ answer, width }: { answer: Answer; width: number }) {
  const f = fieldPicture(answer, width, MOST_HIGH);
  if (f === null) return <p>The map covers no ground.</p>;
  const { unit } = answer.planter;
  const caption =
    `Ground under at least one record is tinted. Lines are drawn to ${distanceText(1 / f.pixelsPerMeter, unit)} or finer; narrow strips are drawn at least one line wide.` +
    (f.tooSmall > 0 ? ` ${countText(f.tooSmall, 'spot')} of gap or overlap too small to draw.` : '');
  return (
    <>
      <Figure
        name="Map of the field"
        kind="above"
        width={f.width}
        height={f.height + 40}
        says={`The field from above: ${countText(f.tracks.length, 'pass', 'passes')}, ${countText(f.seams.length, 'seam')} outside the tolerance.`}
        caption={caption}
      >
        <Ground f={f} />
        <Lines f={f} />
        {f.letters.map(({ letter, x, y }) => (
          <g key={`${letter} ${place(x)} ${place(y)}`} class="causeat">
            <circle cx={place(x)} cy={place(y)} r={10} />
            <text x={place(x)} y={place(y + 5)} text-anchor="middle">
              {letter}
            </text>
          </g>
        ))}
        <ScaleBar f={f} feet={unit === 'in'} />
      </Figure>
      <Key f={f} />
    </>
  );
}

function Ground({ f }: { f: FieldPicture }) {
  return (
    <>
      <defs>
        <clipPath id="gaps">
          <path clip-rule="evenodd" d={f.gaps} />
        </clipPath>
        <clipPath id="laps">
          <path clip-rule="evenodd" d={f.overlap} />
        </clipPath>
      </defs>
      <path class="ground" fill-rule="evenodd" d={f.covered} />
      <path class="track" d={f.tracks.map((t) => t.path).join('')} />
      <path class="lap" fill-rule="evenodd" d={f.overlap} />
      <path class="lapbars" clip-path="url(#laps)" d={slants(f.width, f.height)} />
      <path class="open" fill-rule="evenodd" d={f.gaps} />
      <path class="gapdots" clip-path="url(#gaps)" d={dots(f.width, f.height)} />
    </>
  );
}

/** Seams outside the tolerance, the boundary, and the number of each pass that has room for it. */
function Lines({ f }: { f: FieldPicture }) {
  const of = (kind: string): string => f.seams.map((s) => (s.kind === kind ? s.path : '')).join('');
  return (
    <>
      <path class="seamgap" d={of('gap')} />
      <path class="seamlap" d={of('overlap')} />
      {f.boundary !== '' && <path class="boundary" d={f.boundary} />}
      {f.tracks
        .filter((t) => t.pass > 0)
        .map((t) => (
          <text key={t.pass} class="passno" x={place(t.x)} y={place(t.y + 5)} text-anchor="middle">
            {t.pass}
          </text>
        ))}
    </>
  );
}

const SCALES = [5000, 2000, 1000, 500, 200, 100, 50, 20, 10, 5, 2, 1];

function ScaleBar({ f, feet }: { f: FieldPicture; feet: boolean }) {
  const one = (feet ? 0.3048 : 1) * f.pixelsPerMeter;
  const shown = SCALES.find((s) => s * one <= 180) ?? 1;
  const y = f.height + 14;
  return (
    <>
      <path class="scalebar" d={`M14 ${y}v8H${place(14 + shown * one)}v-8`} />
      <text x={place(22 + shown * one)} y={y + 10}>
        {`${shown} ${feet ? 'ft' : 'm'}`}
      </text>
      <text x={f.width - 14} y={y + 10} text-anchor="end">
        north is up
      </text>
    </>
  );
}

function Key({ f }: { f: FieldPicture }) {
  const count = (kind: string): number => f.seams.filter((s) => s.kind === kind).length;
  return (
    <ul class="legend">
      {f.causes.map(({ letter, says }) => (
        <li key={letter}>
          <b class="causeletter">{letter}</b>
          {says}
        </li>
      ))}
      <li>
        <Swatch kind="track" />
        track of a pass, with its number where it begins
      </li>
      <li>
        <Swatch kind="open" marks="gapdots" d={dots(24, 13)} />
        gap in the recorded map (dots)
      </li>
      <li>
        <Swatch kind="lap" marks="lapbars" d="M4 15L18 1M12 15L25 2M1 10L10 1" />
        overlap in the recorded map (slanted bars)
      </li>
      <li>
        <Swatch kind="seamgap" />
        {`seam left open on the ground: ${count('gap')} (unbroken)`}
      </li>
      <li>
        <Swatch kind="seamlap" />
        {`seam planted twice on the ground: ${count('overlap')} (broken)`}
      </li>
      {f.boundary !== '' && (
        <li>
          <Swatch kind="boundary" />
          field boundary, as given
        </li>
      )}
    </ul>
  );
}

/** A line of the picture, or an area with the marks over it. */
function Swatch({ kind, marks, d }: { kind: string; marks?: string; d?: string }) {
  return (
    <svg width={26} height={16} viewBox="0 0 26 16" aria-hidden="true">
      <path class={kind} d={marks ? 'M1 1H25V15H1Z' : 'M1 8H25'} />
      {marks && <path class={marks} d={d} />}
    </svg>
  );
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
