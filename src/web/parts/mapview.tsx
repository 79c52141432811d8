import { useState } from 'preact/hooks';
import type { Answer } from '../../core/answer.ts';
import { lengthOr } from '../../core/report/index.ts';
import { type Background, readBackground } from '../background.ts';
import { FieldMap } from '../map/fieldmap.tsx';
import type { Boundary, Layers } from '../map/lines.ts';
import type { Choice } from '../selection.ts';
import { FilePick } from './filepick.tsx';

const SWITCHES: readonly { key: 'missing' | 'gaps' | 'overlaps' | 'seams' | 'passes'; says: string; sign: string }[] = [
  { key: 'missing', says: 'Missing strips: recorded, not planted', sign: 'missing' },
  { key: 'gaps', says: 'Gaps in the recorded map', sign: 'gap' },
  { key: 'overlaps', says: 'Overlaps in the recorded map', sign: 'overlap' },
  { key: 'seams', says: 'Seams of the picture shown', sign: 'seam' },
  { key: 'passes', says: 'Tracks and order of the passes', sign: 'track' },
];

/** The field drawn, what is marked on it, and the record under the pointer. */
export function MapView({ answer, boundary, choice }: { answer: Answer; boundary: Boundary | null; choice: Choice }) {
  const [layers, setLayers] = useState<Layers>({
    picture: 'recorded',
    missing: true,
    gaps: true,
    overlaps: true,
    seams: false,
    passes: false,
  });
  const set = (part: Partial<Layers>): void => setLayers((before) => ({ ...before, ...part }));
  const [record, setRecord] = useState(-1);
  const [background, setBackground] = useState<Background | null>(null);
  const [problem, setProblem] = useState('');
  const openBackground = async ([file]: readonly File[]): Promise<void> => {
    const read = await readBackground(file);
    setProblem(typeof read === 'string' ? read : '');
    setBackground(typeof read === 'string' ? null : read);
  };
  return (
    <div class="mapview">
      <fieldset class="choice noprint">
        <legend>Picture</legend>
        <label>
          <input
            type="radio"
            name="picture"
            checked={layers.picture === 'recorded'}
            onChange={() => set({ picture: 'recorded' })}
          />
          Recorded
        </label>
        <label>
          <input
            type="radio"
            name="picture"
            checked={layers.picture === 'planted'}
            onChange={() => set({ picture: 'planted' })}
          />
          Planted
        </label>
      </fieldset>
      <fieldset class="choice noprint">
        <legend>Marked on it</legend>
        {SWITCHES.map(({ key, says, sign }) => (
          <label key={key}>
            <input type="checkbox" checked={layers[key]} onChange={(e) => set({ [key]: e.currentTarget.checked })} />
            <Swatch sign={sign} />
            {says}
          </label>
        ))}
      </fieldset>
      <FieldMap
        answer={answer}
        layers={layers}
        marked={choice.marks}
        background={background?.geojson ?? null}
        boundary={boundary}
        hover={setRecord}
        choose={(pass) => choice.choose({ kind: 'pass', pass })}
        chooseSeam={(i) => {
          const { passA, passB } = answer.evidence.seams[i];
          choice.choose({ kind: 'seam', passA, passB });
        }}
      />
      <ul class="printonly legend" aria-label="Marked on the map">
        {SWITCHES.filter(({ key }) => layers[key]).map(({ key, says, sign }) => (
          <li key={key}>
            <Swatch sign={sign} /> {says}
          </li>
        ))}
      </ul>
      <p class="readout">
        {record >= 0 ? (
          <RecordLine answer={answer} record={record} />
        ) : (
          'Point at the map to read a record; choose one to mark its pass here and everywhere below.'
        )}
      </p>
      <details class="samples noprint">
        <summary>
          <span>A background of your own</span>
        </summary>
        <FilePick
          id="background-file"
          label="Open a background"
          accept=".geojson,.json"
          open={openBackground}
          hint="GeoJSON in longitude and latitude: field edges, tile lines, waterways. Its lines are drawn over the picture; nothing is measured from it."
        />
        {background && (
          <p class="given">
            <span class="label">Drawn</span> <b class="file">{background.name}</b>{' '}
            <button type="button" class="plain" onClick={() => setBackground(null)}>
              Take it away
            </button>
          </p>
        )}
        {problem && <p role="alert">{problem}</p>}
      </details>
      <p class="explain">
        <b>Recorded</b>: what the display believed was planted. <b>Planted</b>: what the declared planter put in the
        ground along the same track. Shown here: {layers.picture}.{boundary && ' The broken dark line is the boundary.'}
      </p>
    </div>
  );
}

/** The patterns of the map, drawn small. */
const MARKS: Record<string, string> = {
  missing: 'M1 12L12 1M5 15L19 1M13 15L21 7',
  gap: 'M3 4h2M9 4h2M15 4h2M6 8h2M12 8h2M18 8h2M3 12h2M9 12h2M15 12h2',
  overlap: 'M1 4l11 11M3 1l14 14M11 1l10 10',
};

function Swatch({ sign }: { sign: string }) {
  return (
    <svg class={`swatch ${sign}`} width="22" height="16" viewBox="0 0 22 16" aria-hidden="true" focusable="false">
      {sign === 'seam' || sign === 'track' ? (
        <path class="line" d="M1 8H21" />
      ) : (
        <>
          <rect x="0.5" y="0.5" width="21" height="15" />
          <path class="marks" d={MARKS[sign] ?? ''} />
        </>
      )}
    </svg>
  );
}

function RecordLine({ answer, record }: { answer: Answer; record: number }) {
  const e = answer.evidence;
  const width = e.recordWidthM[record];
  const parts = [
    `Record ${e.recordNumber[record].toLocaleString('en-US')}`,
    e.recordPass[record] > 0 ? `pass ${e.recordPass[record]}` : 'in no pass',
    e.recordSection[record] >= 0 ? `section ${e.recordSection[record] + 1} from the left` : '',
    Number.isNaN(width) ? '' : `${lengthOr(width, answer.planter.unit)} wide`,
  ];
  return <>{parts.filter((p) => p).join(' · ')}</>;
}
