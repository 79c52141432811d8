import { useEffect, useState } from 'preact/hooks';
import type { Message } from '../../core/messages.ts';
import { proposeSections, ruleBreaks, runName } from '../../core/planter/index.ts';
import type { Planter, RuleBreak } from '../../core/planter/types.ts';

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
  /** Why the text is no planter; null where it is one. */
  error: Message | null;
  open: boolean;
  setOpen(open: boolean): void;
  change(text: string): void;
}

/** What is wrong with a planter file, each under the key of the field that puts it right. */
export function problemsAt(planter: Planter | null, error: Message | null): Map<string, string[]> {
  const found = new Map<string, string[]>();
  const put = (key: string, says: string): void => {
    found.set(key, [...(found.get(key) ?? []), says]);
  };
  // "sections[2]" is put right in the field of all sections.
  if (error?.place.key) put(error.place.key.replace(/\[\d+\]$/, ''), `${error.sentence} ${error.todo}`);
  for (const b of planter ? ruleBreaks(planter) : []) put(fieldOf(b), `${b.says} ${b.todo}`);
  return found;
}

/** Rules 2 to 4 are kept by other sections, rule 5 by the pass spacing of its planting. */
function fieldOf({ rule, planting }: RuleBreak): string {
  return rule === 5 ? `passSpacing.${planting}` : 'sections';
}

/** The planter file's own keys as inputs; what is typed is written back into the file, and the file is read as any other. */
export function PlanterForm({ text, planter, error, open, setOpen, change }: Props) {
  const file = parse(text);
  // As many as the display is set to, so that what is offered here and what the rules propose are the same.
  const [limit, setLimit] = useState(() => String(Array.isArray(file?.sections) ? file.sections.length : 8));
  if (!file) return null;
  const put = (part: Json): void => {
    const next: Json = { ...file, ...part };
    for (const [k, v] of Object.entries(next)) if (v === undefined) delete next[k];
    change(JSON.stringify(next, null, 2));
  };
  const offset = record(file.offset);
  const plantings = Object.entries(record(file.plantings));
  const spacing = record(file.passSpacing);
  const unit = String(file.unit ?? '');
  const problems = problemsAt(planter, error);
  const at = (key: string): { at: string; problems: string[] } => ({ at: key, problems: problems.get(key) ?? [] });
  return (
    <details class="form noprint" open={open} onToggle={(e) => setOpen(e.currentTarget.open)}>
      <summary>
        <span>Change the planter</span>
      </summary>
      <div class="grid">
        <Field {...at('name')} label="Name" value={String(file.name ?? '')} set={(v) => put({ name: v })} wide />
        <label>
          Unit
          <select value={unit} onChange={(e) => put({ unit: e.currentTarget.value })}>
            <option value="in">inches</option>
            <option value="cm">centimetres</option>
            <option value="m">metres</option>
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
        {plantings.map(([name, rows]) => (
          <Field
            key={`p-${name}`}
            {...at(`plantings.${name}`)}
            label={`Rows of "${name}": all, odd, even or a list`}
            value={String(rows)}
            set={(v) => put({ plantings: { ...record(file.plantings), [name]: v } })}
          />
        ))}
        {plantings.map(([name]) => (
          <Field
            key={`s-${name}`}
            {...at(`passSpacing.${name}`)}
            label={`Pass spacing of "${name}", ${unit}`}
            value={spacing[name] === undefined ? '' : String(spacing[name])}
            set={(v) => {
              const { [name]: _, ...others } = spacing;
              const next = v.trim() === '' ? others : { ...others, [name]: number(v) };
              put({ passSpacing: Object.keys(next).length ? next : undefined });
            }}
            numeric
          />
        ))}
        <Field
          {...at('sections')}
          label="Sections, runs of rows"
          value={list(file.sections)}
          set={(v) => put({ sections: runs(v) })}
          wide
        />
        <Field
          {...at('drives')}
          label="Drives, runs of rows"
          value={list(file.drives)}
          set={(v) => put({ drives: runs(v) })}
          wide
        />
        <Field
          {...at('offset.right')}
          label={`Offset to the right, ${unit}`}
          value={String(offset.right ?? 0)}
          set={(v) => put({ offset: { ...offset, right: number(v) } })}
          numeric
        />
        <Field
          {...at('offset.back')}
          label={`Offset to the back, ${unit}`}
          value={String(offset.back ?? 0)}
          set={(v) => put({ offset: { ...offset, back: number(v) } })}
          numeric
        />
      </div>
      {planter && (
        <Propose planter={planter} limit={limit} setLimit={setLimit} take={(sections) => put({ sections })} />
      )}
    </details>
  );
}

function Propose(props: {
  planter: Planter;
  limit: string;
  setLimit(v: string): void;
  take(sections: string[]): void;
}) {
  const most = Number(props.limit);
  const proposal = Number.isInteger(most) && most >= 1 && most <= 64 ? proposeSections(props.planter, most) : null;
  const words = proposal?.sections?.map(runName);
  return (
    <div class="propose">
      <label>
        Most sections
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
          <button type="button" class="plain" onClick={() => props.take(words)}>
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

/** Keeps what is being typed, so that a half-typed number is not rewritten under the fingers. */
function Field({ at, label, value, set, problems, wide = false, numeric = false }: FieldProps) {
  const [typed, setTyped] = useState(value);
  useEffect(() => {
    setTyped((before) => (before.trim() === value || (numeric && Number(before) === Number(value)) ? before : value));
  }, [value, numeric]);
  const wrong = problems.length > 0;
  const id = `planter-${at.replace(/[^\w-]/g, '_')}`;
  return (
    <div class={wide ? 'field wide' : 'field'}>
      <label for={id}>{label}</label>
      <input
        id={id}
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
