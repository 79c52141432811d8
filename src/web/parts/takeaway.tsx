import { useState } from 'preact/hooks';
import type { Answer } from '../../core/answer.ts';
import { htmlReport, toCsv, toGeoJson, toJson } from '../../core/report/index.ts';
import { commandLine, type RunInput } from '../command.ts';
import { saveFile, stem } from '../files.ts';
import type { Sheet } from '../sheet.ts';
import { Part } from './part.tsx';
import { Scroll } from './scroll.tsx';

/** What stays when the sheet is closed: cautions, files, and the command that gives the same answer. */
export function TakeAway({ answer, input, sheet }: { answer: Answer; input: RunInput; sheet: Sheet }) {
  const name = stem(input.mapNames[0] ?? '');
  const command = commandLine(input);
  const [copied, setCopied] = useState('');
  const copy = (): void => {
    navigator.clipboard.writeText(command).then(
      () => setCopied('Copied.'),
      () => setCopied('This browser does not let the page copy; mark the line and copy it by hand.'),
    );
  };
  return (
    <>
      <Part number={5} id="cautions" title="Before anyone acts on it" lead="What this sheet cannot see.">
        <ul class="cautions">
          {answer.report.cautions.map((c) => (
            <li key={c}>{c}</li>
          ))}
        </ul>
      </Part>
      <Part number={6} id="takeaway" title="To keep" lead="The same answer in other shapes.">
        <p class="keep noprint">
          <button type="button" class="button" onClick={() => print()}>
            Print this sheet
          </button>
          <button
            type="button"
            class="plain"
            onClick={() => saveFile(`${name}.report.html`, htmlReport(answer, { command }), 'text/html')}
          >
            Report, HTML
          </button>
          <button
            type="button"
            class="plain"
            onClick={() => saveFile(`${name}.report.json`, toJson(answer), 'application/json')}
          >
            Report, JSON
          </button>
          <button
            type="button"
            class="plain"
            onClick={() => saveFile(`${name}.report.geojson`, toGeoJson(answer), 'application/geo+json')}
          >
            Pictures, GeoJSON
          </button>
          <button type="button" class="plain" onClick={() => saveFile(`${name}.passes.csv`, toCsv(answer), 'text/csv')}>
            Passes, CSV
          </button>
        </p>
        <p>The command line that gives the same answer, run where the files lie:</p>
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
        {(sheet.stale || sheet.run.state === 'running') && (
          <p class="note">Something was changed after this answer; the line belongs to the answer.</p>
        )}
      </Part>
    </>
  );
}
