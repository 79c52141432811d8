import { useEffect, useMemo, useState } from 'preact/hooks';
import type { Answer } from '../../core/answer.ts';
import type { Column } from '../../core/intake/types.ts';
import { hiddenAtFirst, mainSigns, type Picture, pictureAtFirst, type Sign, signsOf } from '../../core/report/index.ts';
import type { FirstPicture } from '../../worker/api.ts';
import { type Background, readBackground } from '../background.ts';
import { FieldMap } from '../map/fieldmap.tsx';
import type { Field, Look } from '../map/fieldview.ts';
import type { Boundary, Layers, Marked } from '../map/lines.ts';
import { THIN_PX } from '../map/scene.ts';
import type { Choice, Marks, Selection } from '../selection.ts';
import { FilePick } from './filepick.tsx';
import { AsRead } from './first.tsx';
import { Legend } from './legend.tsx';
import { RecordEntries } from './record.tsx';

interface Props {
  answer: Answer;
  /** Attributes of the records as the file has them. */
  attributes?: readonly Column[];
  boundary: Boundary | null;
  choice: Choice;
  /** The map as read, which is seen until the map is drawn. */
  asRead: readonly FirstPicture[];
  /** Whether the map has a planter, and so a planted picture. */
  planted: boolean;
}

const PICTURES: readonly [Layers['picture'], string][] = [
  ['recorded', 'Recorded'],
  ['planted', 'Planted'],
  ['both', 'Compare'],
];

const SAYS: Record<Layers['picture'], string> = {
  recorded: 'Recorded: what the display believed was planted.',
  planted: 'Planted: what the declared planter put in the ground along the same track.',
  both: 'Left of the line as recorded, right of it as planted. Drag the line, or move it with the arrow keys.',
};

/** The drawing of the field, its marks, and the record under the pointer. */
export function MapView({ answer, attributes = [], boundary, choice, asRead, planted }: Props) {
  const { evidence, planter } = answer;
  const signs = useMemo(() => signsOf(answer), [evidence]);
  const field = useMemo<Field>(
    () => ({ lattice: evidence.lattice, records: evidence.records, answer, signs, boundary, unit: planter.unit }),
    [evidence, boundary],
  );
  const { layers, pictures, set, show, centered, allLines, setAllLines } = useLayers(signs, planted);
  const { picture } = layers;
  const toggle = (key: string): void => {
    const hidden = new Set(layers.hidden);
    if (!hidden.delete(key)) hidden.add(key);
    set({ hidden });
  };
  const [metersPerPixel, setMetersPerPixel] = useState(0);
  const [background, setBackground] = useState<Background | null>(null);
  const { marks, selection } = choice;
  const look = useMemo<Look>(
    () => ({ layers, marked: onMap(marks, selection), background: background?.geojson ?? null }),
    [layers, marks, background],
  );
  // A diagnosis is shown in the picture that holds its ground.
  useEffect(() => {
    const d = answer.report.diagnoses[marks.diagnosis];
    const own = d ? signs.filter((s) => s.setting === d.setting) : [];
    if (own.length > 0 && picture !== 'both' && own.every((s) => s.picture !== picture)) show(own[0].picture);
  }, [marks.diagnosis]);
  const thin = signs.some(
    (s) =>
      pictures.includes(s.picture) &&
      s.weight !== 'usual' &&
      !layers.hidden.has(s.key) &&
      s.leastM < THIN_PX * metersPerPixel,
  );
  return (
    <div class="mapview" id="map-view">
      <FieldMap
        switches={<Switches layers={layers} set={set} show={planted ? show : null} />}
        field={field}
        look={look}
        choose={(pass) => choice.choose({ kind: 'pass', pass })}
        chooseSeam={(i) => {
          const { passA, passB } = evidence.seams[i];
          choice.choose({ kind: 'seam', passA, passB });
        }}
        scaled={setMetersPerPixel}
        centered={centered}
        moveSplit={(split) => set({ split })}
        meanwhile={asRead.length > 0 && <AsRead pictures={asRead} />}
        readout={(record) => <RecordEntries answer={answer} attributes={attributes} record={record} />}
      >
        <Legend
          signs={signs}
          pictures={pictures}
          hidden={layers.hidden}
          toggle={toggle}
          unit={planter.unit}
          open={allLines}
          setOpen={setAllLines}
          boundary={boundary !== null}
        />
      </FieldMap>
      <p class="explain">
        {SAYS[picture]}{' '}
        {picture !== 'recorded' &&
          answer.report.ifPlanted.length > 0 &&
          `Here as if ${answer.report.declared.planting} was planted. `}
        {thin && (
          <span class="thin">
            Strips too thin to draw at this scale are shown as a tint, stronger where more ground is open.{' '}
          </span>
        )}
        <span class="noprint">Point at a record to read it; choose it to mark its pass here and everywhere below.</span>
      </p>
      <OwnBackground background={background} set={setBackground} />
    </div>
  );
}

/** What the map shows, as the reader switches it. */
function useLayers(signs: readonly Sign[], planted: boolean) {
  const [chosen, show] = useState<Layers['picture'] | null>(null);
  const picture = planted ? (chosen ?? pictureAtFirst(signs)) : 'recorded';
  const [lines, setLines] = useState<Omit<Layers, 'picture' | 'lettered' | 'split'> & { split: number | null }>({
    hidden: new Set(signs.filter(hiddenAtFirst).map((s) => s.key)),
    seams: false,
    passes: false,
    // Until it is moved, the line between the pictures stands in the middle of the field.
    split: null,
  });
  const [middle, centered] = useState(0.5);
  const [allLines, setAllLines] = useState(false);
  const pictures: Picture[] = picture === 'both' ? ['recorded', 'planted'] : [picture];
  const layers = useMemo<Layers>(() => {
    // On the map are the letters that the legend explains.
    const lettered = allLines ? signs : mainSigns(signs, pictures);
    return { ...lines, split: lines.split ?? middle, picture, lettered: new Set(lettered.map((s) => s.key)) };
  }, [lines, middle, picture, allLines, signs]);
  const set = (part: Partial<typeof lines>): void => setLines((before) => ({ ...before, ...part }));
  return { layers, pictures, set, show, centered, allLines, setAllLines };
}

/** On the map a selection is one outline: a seam without its passes, and passes without their seams, whose lines would hide them. */
function onMap(marks: Marks, { kind }: Selection): Marked {
  return kind === 'seam' ? { ...marks, passes: new Set() } : { ...marks, seams: new Set() };
}

function Switches(props: {
  layers: Layers;
  set(part: Partial<Layers>): void;
  /** Chooses a picture; null where there is only the recorded one. */
  show: ((picture: Layers['picture']) => void) | null;
}) {
  const { layers, set, show } = props;
  const apart = layers.picture !== 'both';
  return (
    <>
      {show && (
        <fieldset class="segments">
          <legend class="unseen">Picture</legend>
          {PICTURES.map(([picture, word]) => (
            <label key={picture}>
              <input type="radio" name="picture" checked={layers.picture === picture} onChange={() => show(picture)} />
              <span>{word}</span>
            </label>
          ))}
        </fieldset>
      )}
      <fieldset class="ticks">
        <legend class="unseen">Lines</legend>
        <label class={apart ? '' : 'off'}>
          <input
            type="checkbox"
            checked={layers.seams && apart}
            disabled={!apart}
            onChange={(e) => set({ seams: e.currentTarget.checked })}
          />
          Seams
        </label>
        <label>
          <input type="checkbox" checked={layers.passes} onChange={(e) => set({ passes: e.currentTarget.checked })} />
          Tracks in order
        </label>
      </fieldset>
    </>
  );
}

/** The reader's own lines under the signs: field edges, tile lines, waterways. */
function OwnBackground({ background, set }: { background: Background | null; set(b: Background | null): void }) {
  const [problem, setProblem] = useState('');
  const open = async ([file]: readonly File[]): Promise<void> => {
    const read = await readBackground(file);
    setProblem(typeof read === 'string' ? read : '');
    set(typeof read === 'string' ? null : read);
  };
  return (
    <details class="samples noprint">
      <summary>
        <span>A background of your own</span>
      </summary>
      <FilePick
        id="background-file"
        label="Open a background"
        accept=".geojson,.json"
        open={open}
        hint="GeoJSON in longitude and latitude: field edges, tile lines, waterways. Its lines are drawn over the picture; nothing is measured from it."
      />
      {background && (
        <p class="given">
          <span class="label">Drawn</span> <b class="file">{background.name}</b>{' '}
          <button type="button" class="plain" onClick={() => set(null)}>
            Remove
          </button>
        </p>
      )}
      {problem && <p role="alert">{problem}</p>}
    </details>
  );
}
