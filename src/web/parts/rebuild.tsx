import { Fragment } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import type { Answer } from '../../core/answer.ts';
import type { LayerFormat } from '../../core/formats/index.ts';
import type { LogFormat, RebuiltMap } from '../../worker/api.ts';
import { callWorker, whyNot } from '../checker.ts';
import type { RunInput } from '../command.ts';
import { saveFile, stem } from '../files.ts';
import { overallRebuild, requestOf, type Sheet } from '../state/index.ts';
import { onPageWords } from './labels.ts';
import { RebuildMap } from './rebuildmap.tsx';

const FORMATS: readonly { as: LayerFormat; says: string }[] = [
  { as: '.geojson', says: 'GeoJSON' },
  { as: '.zip', says: 'Shapefile (.zip)' },
  { as: '.gpkg', says: 'GeoPackage' },
  { as: '.fgb', says: 'FlatGeobuf' },
  { as: '.parquet', says: 'GeoParquet' },
];
const LOGS: readonly { as: LogFormat; says: string }[] = [
  { as: '.changes.csv', says: 'Change log, CSV' },
  { as: '.changes.json', says: 'Change log, JSON' },
];

interface Props {
  answer: Answer;
  input: RunInput;
  sheet: Sheet;
  /** The answer no longer matches the inputs on the sheet. */
  past: boolean;
}

/** The map as it should have been: first what would change, then the file with its log. */
export function Rebuild({ answer, input, sheet, past }: Props) {
  const { built, rate, busy, says, setRate, look, save } = useRebuild(answer, input, sheet);
  if (input.beforeNames.length > 0) return null;
  return (
    <div class="rebuild noprint">
      <h3>The map as it should have been</h3>
      {answer.report.verdict === 'undecided' ? (
        <p>While the verdict is undecided, nothing says what was planted, and the map cannot be rebuilt.</p>
      ) : (
        <>
          <p>
            The declared planter, laid on the recorded track. Look at what would change first; the map that you opened
            is never touched.
          </p>
          <p class="keep">
            <button type="button" class="plain" disabled={busy !== null || past} onClick={look}>
              Show what would change
            </button>
            <label class="inline">
              <input type="checkbox" checked={rate} onChange={(e) => setRate(e.currentTarget.checked)} /> Correct rates
              and populations for the recorded area
            </label>
          </p>
        </>
      )}
      {built && !past && <Preview built={built} answer={answer} busy={busy !== null} save={save} />}
      <p role="status" class="quiet">
        {busy ? busy.says : says}
      </p>
      {busy && (
        <div class="progress">
          <label for="rebuilding">{busy.stage}</label>
          <progress id="rebuilding" max={1} {...(busy.done === null ? {} : { value: busy.done })} />
          <button type="button" class="plain" onClick={busy.cancel}>
            Cancel
          </button>
        </div>
      )}
    </div>
  );
}

interface PreviewProps {
  built: RebuiltMap;
  answer: Answer;
  busy: boolean;
  save(as: LayerFormat | LogFormat): void;
}

/** What would change, and the buttons that write it. */
function Preview({ built, answer, busy, save }: PreviewProps) {
  const already = built.unchanged ? 'Nothing needs to change.' : '';
  return (
    <div class="preview">
      <p>{built.before ? 'This map was rebuilt with this planter before.' : already}</p>
      <dl class="facts">
        {built.entries.map(([word, text]) => (
          <Fragment key={word}>
            <dt>{word}</dt>
            <dd>{text}</dd>
          </Fragment>
        ))}
      </dl>
      {!built.before && <RebuildMap built={built} answer={answer} />}
      <p class="keep">
        {[...FORMATS, ...LOGS].map((f) => (
          <button key={f.as} type="button" class="plain" disabled={busy} onClick={() => save(f.as)}>
            {f.says}
          </button>
        ))}
      </p>
    </div>
  );
}

/** A job of the worker. `done` is null where it cannot be told. */
interface Busy {
  says: string;
  stage: string;
  done: number | null;
  cancel(): void;
}

/** The state of the worker's job, and the two requests. */
function useRebuild(answer: Answer, input: RunInput, sheet: Sheet) {
  const [built, setBuilt] = useState<RebuiltMap | null>(null);
  const [rate, setRate] = useState(false);
  const [busy, setBusy] = useState<Busy | null>(null);
  const [says, setSays] = useState('');
  useEffect(() => {
    setBuilt(null);
    setSays('');
  }, [answer]);
  const name = `${stem(input.mapNames[0] ?? '')}.rebuilt`;
  const look = (): void => {
    const { inputs } = sheet;
    // The answer's own is that of the machine with the most travel.
    const planter = inputs.planter?.planter ?? answer.planter;
    // A boundary and an earlier map change nothing in a rebuilt one.
    const { boundary: _, before: __, ...request } = requestOf(inputs, planter);
    const running = callWorker('rebuildMap', [request, rate], {
      progress: (stage, done) => setBusy((b) => b && { ...b, stage, done: overallRebuild(stage, done, b.done ?? 0) }),
    });
    setSays('');
    setBusy({ says: 'The map is being rebuilt.', stage: '', done: 0, cancel: running.cancel });
    running.result
      .then(setBuilt, (error) => setSays(onPageWords(whyNot(error, 'The rebuilt map'))))
      .finally(() => setBusy(null));
  };
  const save = (as: LayerFormat | LogFormat): void => {
    if (!built) return;
    const running = callWorker('writeRebuilt', [built, as, name, input.mapNames[0] ?? '']);
    setSays('');
    setBusy({ says: 'The file is being written.', stage: '', done: null, cancel: running.cancel });
    running.result
      .then(
        ({ file, notes }) => {
          saveFile(name + as, file, 'application/octet-stream');
          setSays(notes.join(' '));
        },
        (error) => setSays(whyNot(error, 'The rebuilt map')),
      )
      .finally(() => setBusy(null));
  };
  return {
    built,
    rate,
    busy,
    says,
    setRate(to: boolean): void {
      setRate(to);
      setBuilt(null);
    },
    look,
    save,
  };
}
