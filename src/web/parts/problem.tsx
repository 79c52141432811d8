import type { Message } from '../../core/shared/messages.ts';

/** A message of the core: the sentence, where, and what to do. */
export function Problem({ message }: { message: Message }) {
  const { place } = message;
  const where = [
    place.file,
    place.record === undefined ? '' : `record ${place.record.toLocaleString('en-US')}`,
    place.key,
  ]
    .filter((s) => s)
    .join(', ');
  return (
    <div class="problem" role="alert">
      <p>
        <b>{message.sentence}</b>
      </p>
      <p>
        {where && (
          <>
            <span class="label">Where</span> <span class="file">{where}</span>
            <br />
          </>
        )}
        <span class="label">What to do</span> {message.todo}
      </p>
    </div>
  );
}
