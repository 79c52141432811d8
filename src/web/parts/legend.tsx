/** The legend on the map: each sign of the account with its cause and its area, to show or hide. */
import type { Unit } from '../../core/planter/types.ts';
import { mainSigns, type Picture, type Sign, signText, type Weight } from '../../core/report/index.ts';

interface Props {
  signs: readonly Sign[];
  /** The pictures that are shown. */
  pictures: readonly Picture[];
  hidden: ReadonlySet<string>;
  /** All lines are shown, not only the main ones. */
  open: boolean;
  setOpen(open: boolean): void;
  toggle(key: string): void;
  unit: Unit;
  boundary: boolean;
}

export function Legend({ signs, pictures, hidden, open, setOpen, toggle, unit, boundary }: Props) {
  const shown = signs.filter((s) => pictures.includes(s.picture));
  const main = mainSigns(signs, pictures);
  const more = shown.length - main.length;
  return (
    <section class="legend" aria-label="Marked on the map">
      {pictures.map((picture) => (
        <fieldset key={picture}>
          <legend>{picture === 'recorded' ? 'On the recorded map' : 'On the planted ground'}</legend>
          {shown
            .filter((s) => s.picture === picture)
            .map((s) => (
              <label
                key={s.key}
                class={`${hidden.has(s.key) ? 'off' : ''} ${open || main.includes(s) ? '' : 'folded'}`}
              >
                <input type="checkbox" checked={!hidden.has(s.key)} onChange={() => toggle(s.key)} />
                <Swatch fact={s.fact} weight={s.weight} letter={s.letter} />
                <span>{signText(s, unit)}</span>
              </label>
            ))}
          {shown.every((s) => s.picture !== picture) && <span>Nothing open, nothing covered twice.</span>}
        </fieldset>
      ))}
      {boundary && <p>Broken line: the field boundary.</p>}
      {more > 0 && (
        <button type="button" class="linkbutton noprint" aria-expanded={open} onClick={() => setOpen(!open)}>
          {open ? 'Fewer lines' : `${more} more ${more === 1 ? 'line' : 'lines'}`}
        </button>
      )}
    </section>
  );
}

/** The patterns of the map, drawn small: dots for gaps, bars for overlaps, bolder with importance; and the letter that its pieces carry there. */
function Swatch({ fact, weight, letter }: { fact: Sign['fact']; weight: Weight; letter: string }) {
  const size = { setting: 5, open: 4, usual: 2.4 }[weight];
  const dots = [4, 12, 20].flatMap((x, i) => (i % 2 ? [0, 8, 16] : [4, 12]).map((y) => [x, y] as const));
  return (
    <>
      <svg
        class={`swatch ${fact} ${weight}`}
        width="24"
        height="16"
        viewBox="0 0 24 16"
        aria-hidden="true"
        focusable="false"
      >
        <rect class="ground" width="24" height="16" />
        {fact === 'gap' ? (
          dots.map(([x, y]) => (
            <rect class="mark" key={`${x} ${y}`} x={x - size / 2} y={y - size / 2} width={size} height={size} />
          ))
        ) : (
          <path class="bars" stroke-width={0.75 * size} d="M-4 -2L14 16M4 -2L22 16M12 -2L30 16M-4 6L6 16M20 -2L30 8" />
        )}
        <rect class="edge" x="0.5" y="0.5" width="23" height="15" />
      </svg>
      <span class="letter" aria-hidden="true">
        {letter}
      </span>
    </>
  );
}
