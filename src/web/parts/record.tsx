/** The attributes of one record: first the measured ones, then every attribute of the file. */
import type { Answer, Role } from '../../core/answer.ts';
import type { Column } from '../../core/intake/types.ts';
import { lengthOr } from '../../core/report/index.ts';
import { dayText } from '../../core/shared/dates.ts';

/** These come first, under their meaning. */
const FIRST: readonly [Role, string][] = [
  ['time', 'Time'],
  ['rate', 'Rate'],
  ['product', 'Product'],
];

interface Props {
  answer: Answer;
  attributes: readonly Column[];
  record: number;
}

export function RecordEntries({ answer, attributes, record }: Props) {
  const { evidence: e, planter, report } = answer;
  const { columns } = report.map;
  const named = new Set(FIRST.map(([role]) => columns[role]?.name));
  const first = FIRST.flatMap(([role, word]) => {
    const column = attributes.find((c) => c.name === columns[role]?.name);
    if (!column) return [];
    const { unit } = columns[role] ?? {};
    return [[word, `${textOf(column, record)}${unit ? ` ${unit}` : ''}`] as const];
  });
  const section = e.recordSection[record];
  const facts: (readonly [string, string])[] = [
    ['Pass', e.recordPass[record] > 0 ? String(e.recordPass[record]) : 'none'],
    ...(section >= 0 ? [['Section recorded', `${section + 1} from the left`] as const] : []),
    ...(Number.isNaN(e.recordWidthM[record])
      ? []
      : [['Width recorded', lengthOr(e.recordWidthM[record], planter.unit)] as const]),
    ...first,
    ...attributes.filter((c) => !named.has(c.name)).map((c) => [c.name, textOf(c, record)] as const),
  ];
  return (
    <>
      <b>Record {e.recordNumber[record].toLocaleString('en-US')}</b>
      <dl>
        {facts.map(([word, says], i) => (
          <div key={`${i} ${word}`}>
            <dt>{word}</dt>
            <dd>{says}</dd>
          </div>
        ))}
      </dl>
    </>
  );
}

/** Date and time as ISO 8601 writes them. */
const ISO_TIME = /^(\d{4}-\d\d-\d\d)T(\d\d:\d\d:\d\d)(?:\.\d+)?Z?$/;

/** The value in the file; numbers without the extra digits of a double. */
function textOf(column: Column, record: number): string {
  if (column.kind === 'text') return inWords(column.words[column.codes[record]] || '\u2014');
  const value = column.values[record];
  return Number.isNaN(value) ? '\u2014' : String(Number(value.toPrecision(10)));
}

/** A time as a person writes it, "April 28, 2026, 14:05:09"; all else as it is. */
function inWords(text: string): string {
  const [, day, time] = ISO_TIME.exec(text) ?? [];
  const ms = Date.parse(`${day}T00:00:00Z`);
  return Number.isNaN(ms) ? text : `${dayText(ms)}, ${time}`;
}
