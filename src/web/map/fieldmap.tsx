/** The map as a part of the sheet: the bar above it, its box, and what lies on it. */
import type { ComponentChildren, RefObject } from 'preact';
import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import { type Calls, type Camera, type Field, FieldView, type Look, NoGraphics, type Spot } from './fieldview.ts';
import type { Size } from './library.ts';
import { Swipe } from './swipe.tsx';

interface Props extends Pick<Calls, 'choose' | 'chooseSeam' | 'scaled' | 'centered'> {
  field: Field;
  look: Look;
  /** Moves the line between the two pictures, 0 to 1 from the left. */
  moveSplit(split: number): void;
  /** The attributes of a record, shown at the pointer. */
  readout(record: number): ComponentChildren;
  /** What is seen until the map is drawn. */
  meanwhile?: ComponentChildren;
  /** Switches, in the bar above the map. */
  switches?: ComponentChildren;
  /** The legend, on the map. */
  children?: ComponentChildren;
}

type State = 'making' | 'drawing' | 'there' | 'lost';

const SAYS: Record<State, string> = {
  making: 'The map is being drawn.',
  drawing: 'The picture is changing.',
  there: '',
  lost: 'The browser has suspended graphics; the map returns with them. Everything else on the sheet still works.',
};

export function FieldMap({
  field,
  look,
  choose,
  chooseSeam,
  scaled,
  centered,
  moveSplit,
  readout,
  meanwhile,
  switches,
  children,
}: Props) {
  const box = useRef<HTMLDivElement>(null);
  const { view, failed, state, spot } = useView(box, field, look, { choose, chooseSeam, scaled, centered });
  const { marked, layers } = look;
  const onePass = marked.passes.size === 1 ? [...marked.passes][0] : 0;
  const oneSeam = marked.seams.size === 1 ? [...marked.seams][0] : -1;
  if (failed) return <p class="problem">{failed}</p>;
  return (
    <div class="fieldmap">
      <div class="mapbar noprint">
        {switches}
        <div class="mapactions">
          <button type="button" class="plain" onClick={() => view.current?.fit()}>
            Whole field
          </button>
          {field.answer && (
            <button
              type="button"
              class="plain"
              onClick={() => view.current?.closer(oneSeam, onePass)}
              disabled={field.answer.evidence.passes.length === 0}
            >
              {oneSeam >= 0 ? 'Close look at the seam' : onePass > 0 ? `Close look at pass ${onePass}` : 'Close look'}
            </button>
          )}
        </div>
      </div>
      <div class="mapframe">
        <div class="mapbox" ref={box} data-unit={field.unit} />
        {state === 'making' && meanwhile}
        {layers.picture === 'both' && <Swipe split={layers.split} move={moveSplit} />}
        {spot && box.current && (
          <Readout spot={spot} frame={box.current}>
            {readout(spot.record)}
          </Readout>
        )}
        <span role="status" class="mapstate">
          {SAYS[state]}
        </span>
        {children}
      </div>
    </div>
  );
}

/** Size of the legend that lies on the same map as `part`; null where it lies below it, as on paper. */
export function legendOn(part: Element): Size | null {
  const legend = part.closest('.mapframe')?.querySelector<HTMLElement>('.legend');
  return legend && getComputedStyle(legend).position === 'absolute'
    ? { width: legend.offsetWidth, height: legend.offsetHeight }
    : null;
}

interface View {
  view: RefObject<FieldView | null>;
  /** Why there is no map; empty where there is one. */
  failed: string;
  state: State;
  spot: Spot | null;
}

/** The map in `box`: created for a field, recreated when the browser has dropped the graphics context, and kept at `look`. */
function useView(
  box: RefObject<HTMLDivElement | null>,
  field: Field,
  look: Look,
  calls: Pick<Calls, 'choose' | 'chooseSeam' | 'scaled' | 'centered'>,
): View {
  const view = useRef<FieldView | null>(null);
  const camera = useRef<Camera | null>(null);
  const [failed, setFailed] = useState('');
  const [state, setState] = useState<State>('making');
  const [spot, setSpot] = useState<Spot | null>(null);
  /** How often the browser dropped and restored the graphics context: each time the map is recreated. */
  const [remade, setRemade] = useState(0);
  const scheme = useScheme();
  const latestCalls = useRef(calls);
  latestCalls.current = calls;
  const latest = useRef(look);
  latest.current = look;
  const { records } = field;
  useEffect(() => {
    camera.current = null;
  }, [records]);

  useEffect(() => {
    const container = box.current;
    if (!container) return;
    setState('making');
    setSpot(null);
    const made = new FieldView(
      container,
      field,
      latest.current,
      {
        hover: setSpot,
        choose: (pass) => latestCalls.current.choose(pass),
        chooseSeam: (seam) => latestCalls.current.chooseSeam(seam),
        scaled: (m) => latestCalls.current.scaled(m),
        centered: (middle) => latestCalls.current.centered(middle),
        drawn: (all) => {
          if (all) container.dataset.ready = 'yes';
          else delete container.dataset.ready;
          setState((before) => (all ? 'there' : before === 'making' ? before : 'drawing'));
        },
        legend: () => legendOn(container),
        lost: () => setState('lost'),
        restored: () => setRemade((n) => n + 1),
      },
      camera.current,
    );
    view.current = made;
    made
      .start()
      .catch((error) =>
        setFailed(
          error instanceof NoGraphics
            ? 'This browser gives the page no graphics (WebGL 2), so the map cannot be drawn. Everything else on the sheet still works.'
            : `The map could not be drawn: ${String(error)}. Everything else on the sheet still works.`,
        ),
      );
    return () => {
      camera.current = made.moved();
      view.current = null;
      made.stop();
      delete container.dataset.ready;
    };
  }, [field, remade]);

  useEffect(() => view.current?.show(look), [look, scheme]);
  return { view, failed, state, spot };
}

/** A map narrower than this leaves no room beside the pointer. */
const NARROW_PX = 480;

/** Beside the pointer, on whichever side of it there is more room. */
function Readout({ spot, frame, children }: { spot: Spot; frame: HTMLElement; children: ComponentChildren }) {
  const [w, h] = [frame.clientWidth, frame.clientHeight];
  // On a phone there is no room beside the finger: across the map, above or below it.
  const across = {
    left: '0',
    right: '0',
    width: 'auto',
    maxWidth: 'none',
    ...(spot.y > h / 2 ? { top: '0' } : { bottom: '0' }),
  };
  const beside = {
    ...(spot.x > w / 2 ? { right: `${w - spot.x + 14}px` } : { left: `${spot.x + 14}px` }),
    ...(spot.y > h / 2 ? { bottom: `${h - spot.y + 14}px` } : { top: `${spot.y + 14}px` }),
  };
  return (
    <div class="readout noprint" style={w < NARROW_PX ? across : beside} aria-live="polite">
      {children}
    </div>
  );
}

/** Light or dark, as in the reader's system. */
export function useScheme(): boolean {
  const query = useMemo(() => matchMedia('(prefers-color-scheme: dark)'), []);
  const [dark, setDark] = useState(query.matches);
  useEffect(() => {
    const follow = (): void => setDark(query.matches);
    query.addEventListener('change', follow);
    return () => query.removeEventListener('change', follow);
  }, [query]);
  return dark;
}
