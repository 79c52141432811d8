import type { Answer } from '../../core/answer.ts';
import { TwoRulers } from '../../core/report/draw/index.ts';
import { shownMachine } from '../../core/report/index.ts';
import { Fitted } from '../draw/fitted.tsx';
import type { Choice } from '../selection.ts';
import type { Done, Looked, Sheet } from '../state/index.ts';
import { MapView } from './mapview.tsx';
import { ShownFor } from './planting.tsx';

/** The map: the picture of the verdict. */
export function FieldPart({ picture, choice }: { picture: Done | Looked; choice: Choice }) {
  const { answer, attributes, boundary } = picture;
  return (
    <section class="part field" id="field" aria-labelledby="field-title">
      <h2 id="field-title" class="unseen">
        The field
      </h2>
      <MapView
        answer={answer}
        attributes={attributes}
        boundary={boundary}
        choice={choice}
        asRead={picture.pictures}
        planted={picture.state === 'done'}
      />
    </section>
  );
}

/** Declared above, recorded below. */
export function RulersPart({ answer, choice, sheet }: { answer: Answer; choice: Choice; sheet: Sheet }) {
  return (
    <section class="part field" id="rulers" aria-labelledby="rulers-title">
      <h2 id="rulers-title">Declared above, recorded below</h2>
      <ShownFor sheet={sheet} report={answer.report} />
      <Fitted>
        {(width) => <TwoRulers report={answer.report} planter={answer.planter} width={width} choice={choice} />}
      </Fitted>
      <SectionButtons count={shownMachine(answer.report).recorded.sections.length} choice={choice} />
    </section>
  );
}

/** The recorded sections for readers who cannot use a pointer. */
function SectionButtons({ count, choice }: { count: number; choice: Choice }) {
  if (count === 0) return null;
  return (
    <fieldset class="choice sections noprint">
      <legend>Mark a section</legend>
      {Array.from({ length: count }, (_, s) => (
        <button
          type="button"
          class="passbutton"
          key={s}
          aria-label={`Recorded section ${s + 1}`}
          aria-pressed={choice.marks.sections.has(s)}
          onClick={() => choice.choose({ kind: 'section', section: s })}
        >
          {s + 1}
        </button>
      ))}
    </fieldset>
  );
}
