/**
 * The drawings of an answer, for the page and for written reports: pure functions of an answer and a width in pixels.
 * `DRAWING_STYLE` is how they look. Not part of the library: its types are those of Preact.
 */
export { FieldAbove } from './field.tsx';
export { type Choosing, Scroll } from './figure.tsx';
export { Frame } from './frame.tsx';
export { TwoRulers } from './rulers.tsx';
export { SeamChart } from './seamchart.tsx';
export { Sketch, sketchSpanM } from './sketch.tsx';
export { drawn } from './static.ts';
export { DRAWING_STYLE } from './style.ts';
export { TimeLine } from './timeline.tsx';
