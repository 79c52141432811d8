import { useEffect, useRef, useState } from 'preact/hooks';
import { convertUnit, proposeSections, readPlanter, ruleBreaks, runName } from '../../core/planter/index.ts';
import type { Planter, RuleBreak, Unit } from '../../core/planter/types.ts';
import type { Message } from '../../core/shared/messages.ts';

/** A planter to begin with when the user has no file. */
export const EXAMPLE = JSON.stringify(
  {
    name: 'My planter',
    unit: 'in',
    rows: 12,
    rowSpacing: 30,
    plantings: { every: 'all' },
    sections: ['1-2', '3-4', '5-6', '7-8', '9-10', '11-12'],
  },
  null,
  2,
);

type Json = Record<string, unknown>;

interface Props {
  text: string;
  planter: Planter | null;
  /** Why the text does not declare a planter; null where it does. */
  error: Message | null;
  open: boolean;
  setOpen(open: boolean): void;
  change(text: string): void;
}

/** The faults of a planter file, each under the key of the field that corrects it. */
function problemsAt(planter: Planter | null, error: Message | null): Map<string, string[]> {
  const found = new Map<string, string[]>();
  const put = (key: string, says: string): void => {
    found.set(key, [...(found.get(key) ?? []), says]);
  };
  // "sections[2]" is corrected in the field of all sections.
  if (error?.place.key) put(error.place.key.replace(/\[\d+\]$/, ''), inWords(`${error.sentence} ${error.todo}`));
  for (const b of planter ? ruleBreaks(planter) : []) put(fieldOf(b), `${b.says} ${b.todo}`);
  return found;
}

/** Keys of the planter file as the labels of their fields. */
const LABELS: Readonly<Record<string, string>> = {
  name: 'the name',
  unit: 'the unit',
  rows: 'the number of rows',
  rowSpacing: 'the row spacing',
  plantings: 'the plantings',
  sections: 'the sections',
  drives: 'the drives',
  offset: 'the offset',
  passSpacing: 'the pass spacing',
};

/** A sentence about the planter file, reworded for the form: no key of the file in quotes. */
export function inWords(says: string): string {
  return says
    .replace(/"(\w+)"/g, (whole, key: string) => (Object.hasOwn(LABELS, key) ? LABELS[key] : whole))
    .replace(
      /The key (the [\w ]+?) is missing\./,
      (_, label: string) => `${label[0].toUpperCase()}${label.slice(1)} is missing.`,
    )
    .replace('Add it; see the planter files among the samples.', 'Fill it in.')
    .replace(/A row spacing of "" \w+ fits no planter\./, 'The row spacing is missing.')
    .replace(/^"" is not/, 'An empty field is not')
    .replace(/ in in(?=[ .,;])/g, ' in inches')
    .replace('"" is neither', 'an empty field is neither');
}

/** Whether a fault belongs to a field of the form and is shown there. */
export function hasField({ place: { key } }: Message): boolean {
  return (
    key !== undefined &&
    /^(name|rows|rowSpacing|plantings\.|passSpacing\.|sections|drives|offset\.(right|back))/.test(key)
  );
}

/** Rules 2 to 4 are kept by other sections, rule 5 by the pass spacing of its planting. */
function fieldOf({ rule, planting }: RuleBreak): string {
  return rule === 5 ? `passSpacing.${planting}` : 'sections';
}

/** The planter file's own keys as inputs; typed text is written back into the file, and the file is read like any other. */
export function PlanterForm({ text, planter, error, open, setOpen, change }: Props) {
  const file = parse(text);
  // As many as the display is set to, so that the form offers what the rules propose.
  const [limit, setLimit] = useState(() => String(Array.isArray(file?.sections) ? file.sections.length : 8));
  const first = useRef<HTMLDivElement>(null);
  useEffect(() => {
    // Who has already gone to another field stays there.
    if (open && !first.current?.contains(document.activeElement)) first.current?.querySelector('input')?.focus();
  }, [open]);
  if (!file) return null;
  const put = (part: Json): void => {
    const next: Json = { ...file, ...part };
    for (const [k, v] of Object.entries(next)) if (v === undefined) delete next[k];
    change(JSON.stringify(next, null, 2));
  };
  const unit = String(file.unit ?? '');
  const problems = problemsAt(planter, error);
  const at = (key: string): { at: string; problems: string[] } => ({ at: key, problems: problems.get(key) ?? [] });
  return (
    <details class="form noprint" open={open} onToggle={(e) => setOpen(e.currentTarget.open)}>
      <summary>
        <span>Change the planter</span>
      </summary>
      <div class="grid" ref={first}>
        <Field {...at('name')} label="Name" value={String(file.name ?? '')} set={(v) => put({ name: v })} wide />
        <label>
          Unit
          <select
            value={unit}
            onChange={(e) => put(convertUnit(file, unit as Unit, e.currentTarget.value as Unit) as Json)}
          >
            <option value="in">inches</option>
            <option value="cm">centimeters</option>
            <option value="m">meters</option>
          </select>
        </label>
        <Field
          {...at('rows')}
          label="Rows"
          value={String(file.rows ?? '')}
          set={(v) => put({ rows: number(v) })}
          numeric
        />
        <Field
          {...at('rowSpacing')}
          label={`Row spacing, ${unit}`}
          value={String(file.rowSpacing ?? '')}
          set={(v) => put({ rowSpacing: number(v) })}
          numeric
        />
        <FilePlantings file={file} unit={unit} at={at} put={put} />
        <Field
          {...at('sections')}
          label="Sections, as row ranges"
          value={list(file.sections)}
          set={(v) => put({ sections: runs(v) })}
          wide
        />
        <Field
          {...at('drives')}
          label="Drives, as row ranges"
          value={list(file.drives)}
          set={(v) => put({ drives: runs(v) })}
          wide
        />
        <Offsets offset={record(file.offset)} unit={unit} at={at} put={put} />
      </div>
      <Propose
        frame={frameOf(file)}
        needed={!Array.isArray(file.sections) || (problems.get('sections') ?? []).length > 0}
        limit={limit}
        setLimit={setLimit}
        take={(sections) => put({ sections })}
      />
    </details>
  );
}

interface PartProps {
  unit: string;
  at(key: string): { at: string; problems: string[] };
  /** Writes keys into the planter file; undefined removes one. */
  put(part: Json): void;
}

/** The keys "plantings" and "passSpacing", kept in step. */
function FilePlantings({ file, unit, at, put }: PartProps & { file: Json }) {
  const plantings = Object.entries(record(file.plantings));
  const spacing = record(file.passSpacing);
  const spaced = (next: Json): Json => ({ passSpacing: Object.keys(next).length > 0 ? next : undefined });
  return (
    <Plantings
      plantings={plantings.map(([name, rows]) => [name, String(rows)])}
      spacing={spacing}
      unit={unit}
      at={at}
      put={(next) => {
        const names = next.map(([n]) => n);
        const kept = Object.entries(spacing).filter(([n]) => names.includes(n));
        put({ plantings: Object.fromEntries(next), ...spaced(Object.fromEntries(kept)) });
      }}
      rename={(i, to) => {
        const renamed = (entries: [string, unknown][]): Json =>
          Object.fromEntries(entries.map(([n, v]) => [n === plantings[i][0] ? to : n, v]));
        put({
          plantings: renamed(plantings),
          ...(Object.keys(spacing).length > 0 ? { passSpacing: renamed(Object.entries(spacing)) } : {}),
        });
      }}
      space={(name, v) => {
        const { [name]: _, ...others } = spacing;
        put(spaced(v.trim() === '' ? others : { ...others, [name]: number(v) }));
      }}
    />
  );
}

function Offsets({ offset, unit, at, put }: PartProps & { offset: Json }) {
  return (
    <>
      {(['right', 'back'] as const).map((to) => (
        <Field
          key={to}
          {...at(`offset.${to}`)}
          label={`Offset to the ${to}, ${unit}`}
          value={String(offset[to] ?? 0)}
          set={(v) => put({ offset: { ...offset, [to]: number(v) } })}
          numeric
        />
      ))}
    </>
  );
}

interface PlantingsProps {
  plantings: readonly [name: string, rows: string][];
  spacing: Json;
  unit: string;
  at(key: string): { at: string; problems: string[] };
  put(next: readonly [string, string][]): void;
  rename(i: number, to: string): void;
  space(name: string, value: string): void;
}

/** What the planter can plant: each with a name, its rows, and how far apart passes are steered. */
function Plantings({ plantings, spacing, unit, at, put, rename, space }: PlantingsProps) {
  const names = plantings.map(([n]) => n);
  const all = useRef<HTMLFieldSetElement>(null);
  const added = useRef(false);
  useEffect(() => {
    if (!added.current) return;
    added.current = false;
    // The name of the new planting comes first in its row.
    const rows = all.current?.querySelectorAll('.planting');
    const name = rows?.[rows.length - 1]?.querySelector('input');
    name?.focus();
    name?.select();
  }, [plantings.length]);
  const free = ['narrow', 'wide', 'every', ...names.map((_, i) => `planting ${i + 2}`)].find((n) => !names.includes(n));
  return (
    <fieldset class="plantings wide" ref={all}>
      <legend>Plantings: which rows run</legend>
      {plantings.map(([name, rows], i) => (
        // The place in the list, because the name changes while it is typed.
        <div class="planting" key={i}>
          <NameField name={name} others={names.filter((_, k) => k !== i)} set={(to) => rename(i, to)} />
          <Field
            {...at(`plantings.${name}`)}
            label={`Rows of "${name}": all, odd, even or a list`}
            value={rows}
            set={(v) => put(plantings.map(([n, r], k) => [n, k === i ? v : r]))}
          />
          <Field
            {...at(`passSpacing.${name}`)}
            label={`Pass spacing of "${name}", ${unit}`}
            value={spacing[name] === undefined ? '' : String(spacing[name])}
            set={(v) => space(name, v)}
            numeric
          />
          {plantings.length > 1 && (
            <button
              type="button"
              class="quietbutton"
              aria-label={`Remove the planting ${name}`}
              onClick={() => put(plantings.filter((_, k) => k !== i))}
            >
              Remove
            </button>
          )}
        </div>
      ))}
      <button
        type="button"
        class="plain"
        onClick={() => {
          added.current = true;
          if (free) put([...plantings, [free, 'odd']]);
        }}
      >
        Add a planting
      </button>
    </fieldset>
  );
}

/** A name that is empty or taken stays in the field and is not written into the planter. */
function NameField({ name, others, set }: { name: string; others: readonly string[]; set(to: string): void }) {
  const [problem, setProblem] = useState('');
  return (
    <Field
      at={`named.${name}`}
      label={`Name of the planting "${name}"`}
      value={name}
      problems={problem ? [problem] : []}
      set={(v) => {
        const to = v.trim();
        const wrong =
          to === '' ? 'Give the planting a name.' : others.includes(to) ? `Another planting is called "${to}".` : '';
        setProblem(wrong);
        if (!wrong && to !== name) set(to);
      }}
    />
  );
}

type Frame = Pick<Planter, 'rows' | 'plantings' | 'drives'>;

/** The frame that sections are proposed for, whatever the sections are now; null while it cannot be read. */
function frameOf(file: Json): Frame | null {
  const { sections: _, passSpacing: __, ...rest } = file;
  try {
    return readPlanter(JSON.stringify(rest), 'form');
  } catch {
    return null;
  }
}

function Propose(props: {
  frame: Frame | null;
  /** There are no sections, or they break a rule. */
  needed: boolean;
  limit: string;
  setLimit(v: string): void;
  take(sections: string[]): void;
}) {
  const most = Number(props.limit);
  const { frame } = props;
  const proposal = frame && Number.isInteger(most) && most >= 1 && most <= 64 ? proposeSections(frame, most) : null;
  const words = proposal?.sections?.map(runName);
  return (
    <div class={props.needed ? 'propose needed' : 'propose'}>
      <label>
        Maximum sections
        <input
          inputMode="numeric"
          size={4}
          value={props.limit}
          onInput={(e) => props.setLimit(e.currentTarget.value)}
        />
      </label>
      {words && (
        <>
          <p>
            Sections that keep the rules: <b>{words.join(' · ')}</b>
          </p>
          <button type="button" class={props.needed ? 'button' : 'plain'} onClick={() => props.take(words)}>
            Take these sections
          </button>
        </>
      )}
      {proposal?.why && <p>{proposal.why}</p>}
    </div>
  );
}

interface FieldProps {
  /** Key of the planter file. */
  at: string;
  label: string;
  value: string;
  set(value: string): void;
  /** What is wrong with it; empty for nothing. */
  problems: readonly string[];
  wide?: boolean;
  numeric?: boolean;
}

/** Keeps the typed text, so that a half-typed number is not rewritten. */
function Field({ at, label, value, set, problems, wide = false, numeric = false }: FieldProps) {
  const [typed, setTyped] = useState(value);
  const input = useRef<HTMLInputElement>(null);
  useEffect(() => {
    // The planter is updated a moment after typing: a value that comes back meanwhile is older than the text in the field.
    if (document.activeElement === input.current) return;
    setTyped((before) => (before.trim() === value || (numeric && Number(before) === Number(value)) ? before : value));
  }, [value, numeric]);
  const wrong = problems.length > 0;
  const id = `planter-${at.replace(/[^\w-]/g, '_')}`;
  return (
    <div class={wide ? 'field wide' : 'field'}>
      <label for={id}>{label}</label>
      <input
        id={id}
        ref={input}
        value={typed}
        inputMode={numeric ? 'decimal' : 'text'}
        aria-invalid={wrong}
        {...(wrong ? { 'aria-describedby': `${id}-wrong` } : {})}
        onInput={(e) => {
          setTyped(e.currentTarget.value);
          set(e.currentTarget.value);
        }}
      />
      <div id={`${id}-wrong`} aria-live="polite">
        {problems.map((says) => (
          <p class="wrong" key={says}>
            {unbroken(says)}
          </p>
        ))}
      </div>
    </div>
  );
}

/** Runs of rows stay in one piece where a line ends: a word joiner on either side of the dash. */
function unbroken(says: string): string {
  return says.replace(/(\d)-(\d)/g, '$1\u2060-\u2060$2');
}

function parse(text: string): Json | null {
  try {
    const json: unknown = JSON.parse(text);
    return typeof json === 'object' && json !== null && !Array.isArray(json) ? (json as Json) : null;
  } catch {
    return null;
  }
}

function record(v: unknown): Json {
  return typeof v === 'object' && v !== null && !Array.isArray(v) ? (v as Json) : {};
}

/** What is no number stays text, and the reader of planter files says so. */
function number(text: string): number | string {
  const n = Number(text.trim().replace(',', '.'));
  return text.trim() === '' || Number.isNaN(n) ? text : n;
}

function list(v: unknown): string {
  return Array.isArray(v) ? v.map(String).join(', ') : '';
}

function runs(text: string): string[] | undefined {
  const parts = text.split(/[,\s]+/).filter((s) => s);
  return parts.length ? parts : undefined;
}
