/** Prepares the drawing of a map in another thread; half a million records would block the page for a second or more. */
import { type Drawn, drawingOf } from './drawing.ts';

self.addEventListener('message', (event: MessageEvent<Drawn>) => {
  const drawing = drawingOf(event.data);
  self.postMessage(drawing, { transfer: buffersOf(drawing) });
});

/** Every array's buffer, once each: they are transferred to the page instead of copied. */
function buffersOf(value: unknown, found = new Set<ArrayBuffer>()): ArrayBuffer[] {
  if (ArrayBuffer.isView(value)) {
    if (value.byteLength > 0) found.add(value.buffer as ArrayBuffer);
  } else if (typeof value === 'object' && value !== null)
    for (const inner of Object.values(value)) buffersOf(inner, found);
  return [...found];
}
