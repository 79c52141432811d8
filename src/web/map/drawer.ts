/** Prepares the drawing of a map in another thread; half a million records would block the page for a second or more. */

import { buffersOf } from '../../core/shared/buffers.ts';
import { type Drawn, drawingOf } from './drawing.ts';

self.addEventListener('message', (event: MessageEvent<Drawn>) => {
  const drawing = drawingOf(event.data);
  self.postMessage(drawing, { transfer: buffersOf(drawing) });
});
