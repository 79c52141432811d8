/** Makes the drawing of a map beside the page's own thread, which half a million records would hold up for a second and more. */
import { type Drawn, drawingOf } from './drawing.ts';

self.addEventListener('message', (event: MessageEvent<Drawn>) => {
  const d = drawingOf(event.data);
  const meshes = Object.values(d.meshes);
  const arrays = [d.records, d.flags, d.planted, d.gaps, d.overlap, ...meshes.map((m) => m.index)];
  const buffers = new Set(arrays.map((a) => a.buffer as ArrayBuffer));
  self.postMessage(d, { transfer: [...buffers] });
});
