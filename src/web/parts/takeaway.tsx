import { useState } from 'preact/hooks';
import type { Answer } from '../../core/answer.ts';
import { Scroll } from '../../core/report/draw/index.ts';
import type { Written } from '../../worker/api.ts';
import { callWorker, whyNot } from '../checker.ts';
import { commandLine, type RunInput } from '../command.ts';
import { saveFile, stem } from '../files.ts';
import { isOld, type Sheet } from '../state/index.ts';
import { CHANGED } from './labels.ts';
import { Part } from './part.tsx';
import { Rebuild } from './rebuild.tsx';

const FILES: readonly { as: Written; says: string; ending: string; type: string }[] = [
  { as: 'html', says: 'Report, HTML', ending: 'report.html', type: 'text/html' },
  { as: 'json', says: 'Report, JSON', ending: 'report.json', type: 'application/json' },
  { as: 'geojson', says: 'Pictures, GeoJSON', ending: 'report.geojson', type: 'application/geo+json' },
  { as: 'csv', says: 'Passes, CSV', ending: 'passes.csv', type: 'text/csv' },
];

/** What can be saved: the corrected map, reports, and the command that gives the same answer. */
export function TakeAway({ answer, input, sheet }: { answer: Answer; input: RunInput; sheet: Sheet }) {
  const name = stem(input.mapNames[0] ?? '');
  const command = commandLine(input);
  const [copied, setCopied] = useState('');
  const [writing, setWriting] = useState<{ says: string; cancel(): void } | null>(null);
  const [problem, setProblem] = useState('');
  // A file does not show the state of the sheet: one of an outdated answer would look current.
  const past = isOld(sheet) || sheet.run.state === 'running';
  const write = ({ as, says, ending, type }: (typeof FILES)[number]): void => {
    const running = callWorker('write', [answer, as, command]);
    setWriting({ says, cancel: running.cancel });
    setProblem('');
    running.result
      .then(
        (content) => saveFile(`${name}.${ending}`, content, type),
        (error) => setProblem(whyNot(error, says)),
      )
      .finally(() => setWriting(null));
  };
  const copy = (): void => {
    navigator.clipboard.writeText(command).then(
      () => setCopied('Copied.'),
      () => setCopied('This browser does not let the page copy; mark the line and copy it by hand.'),
    );
  };
  return (
    <Part number={4} id="takeaway" title="To keep" lead="The corrected map, and this answer in other formats.">
      <Rebuild answer={answer} input={input} sheet={sheet} past={past} />
      <h3>The report</h3>
      <p class="keep noprint">
        <button type="button" class="button" onClick={() => print()}>
          Print this sheet
        </button>
        {FILES.map((f) => (
          <button key={f.as} type="button" class="plain" disabled={writing !== null || past} onClick={() => write(f)}>
            {f.says}
          </button>
        ))}
      </p>
      {past && (
        <p class="note">
          {isOld(sheet) ? CHANGED : 'The map is being checked again.'}{' '}
          <span class="noprint">Files can be kept of the answer once the map has been checked again.</span>
        </p>
      )}
      <p role="status" class="quiet noprint">
        {writing ? `${writing.says} is being written.` : problem}{' '}
        {writing && (
          <button type="button" class="plain" onClick={writing.cancel}>
            Cancel
          </button>
        )}
      </p>
      <p>The command that gives the same answer, run in the folder with the files:</p>
      <div class="command">
        <Scroll name="Command line">
          <code>{command}</code>
        </Scroll>
        <button type="button" class="plain noprint" onClick={copy}>
          Copy
        </button>
      </div>
      <p role="status" class="quiet noprint">
        {copied}
      </p>
      {past && <p class="note">Something was changed after this answer; the line belongs to the answer.</p>}
    </Part>
  );
}
