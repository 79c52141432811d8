import { useEffect, useState } from 'preact/hooks';
import { proposeSections, runName } from '../../core/planter/index.ts';
import type { Planter } from '../../core/planter/types.ts';

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
  change(text: string): void;
}

/** The planter file's own keys as inputs; what is typed is written back into the file, and the file is read as any other. */
export function PlanterForm({ text, planter, change }: Props) {
  const file = parse(text);
  const [open, setOpen] = useState(false);
  const [limit, setLimit] = useState('8');
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
  return (
    <details class="form noprint" open={open} onToggle={(e) => setOpen(e.currentTarget.open)}>
      <summary>
        <span>Change the planter</span>
      </summary>
      <div class="grid">
        <Field label="Name" value={String(file.name ?? '')} set={(v) => put({ name: v })} wide />
        <label>
          Unit
          <select value={unit} onChange={(e) => put({ unit: e.currentTarget.value })}>
            <option value="in">inches</option>
            <option value="cm">centimetres</option>
            <option value="m">metres</option>
          </select>
        </label>
        <Field label="Rows" value={String(file.rows ?? '')} set={(v) => put({ rows: number(v) })} numeric />
        <Field
          label={`Row spacing, ${unit}`}
          value={String(file.rowSpacing ?? '')}
          set={(v) => put({ rowSpacing: number(v) })}
          numeric
        />
        {plantings.map(([name, rows]) => (
          <Field
            key={`p-${name}`}
            label={`Rows of "${name}": all, odd, even or a list`}
            value={String(rows)}
            set={(v) => put({ plantings: { ...record(file.plantings), [name]: v } })}
          />
        ))}
        {plantings.map(([name]) => (
          <Field
            key={`s-${name}`}
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
          label="Sections, runs of rows"
          value={list(file.sections)}
          set={(v) => put({ sections: runs(v) })}
          wide
        />
        <Field label="Drives, runs of rows" value={list(file.drives)} set={(v) => put({ drives: runs(v) })} wide />
        <Field
          label={`Offset to the right, ${unit}`}
          value={String(offset.right ?? 0)}
          set={(v) => put({ offset: { ...offset, right: number(v) } })}
          numeric
        />
        <Field
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
  label: string;
  value: string;
  set(value: string): void;
  wide?: boolean;
  numeric?: boolean;
}

/** Keeps what is being typed, so that a half-typed number is not rewritten under the fingers. */
function Field({ label, value, set, wide = false, numeric = false }: FieldProps) {
  const [typed, setTyped] = useState(value);
  useEffect(() => {
    setTyped((before) => (before.trim() === value || (numeric && Number(before) === Number(value)) ? before : value));
  }, [value, numeric]);
  return (
    <label class={wide ? 'wide' : ''}>
      {label}
      <input
        value={typed}
        inputMode={numeric ? 'decimal' : 'text'}
        onInput={(e) => {
          setTyped(e.currentTarget.value);
          set(e.currentTarget.value);
        }}
      />
    </label>
  );
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
