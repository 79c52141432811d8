/** What a display is set to, and the settings of one that is right. A fault is a difference between the two. */
import { type Band, bandsOf, type Frame, frameOf, widthOf, type Yard } from './planter.ts';

export interface Display {
  frame: Frame;
  /** Bands of the sections as drawn, meters from the line that is steered; null is never drawn. */
  bands: (Band | null)[];
  /** Distance from pass to pass that is steered. */
  stepM: number;
  /** Drawn so far to the right of where the planter is, and so far ahead, meters. */
  asideM: number;
  forwardM: number;
  /** Seconds from a command to the section's recorded change. */
  delayS: number;
  /** Seconds that the command comes before the line is reached. */
  lookAheadS: number;
  control: boolean;
  /** Share of a section over ground to plant above which it is switched on. */
  onFrom: number;
  /** wiring[place] is the section whose command the place follows. */
  wiring: number[];
  stuckOn: number[];
  stuckOff: number[];
}

/** A display in use from a point of a machine's work on. */
export interface Epoch {
  /** Pass of the machine, from 0, and how far along it, 0 to 1. */
  pass: number;
  share: number;
  display: Display;
}

export function rightDisplay(yard: Yard, control: boolean, lookAheadS: number, onFrom: number): Display {
  const frame = frameOf(yard);
  const bands = bandsOf(frame);
  return {
    frame,
    bands,
    stepM: widthOf(bands),
    asideM: 0,
    forwardM: 0,
    delayS: 0,
    lookAheadS,
    control,
    onFrom,
    wiring: bands.map((_, i) => i),
    stuckOn: [],
    stuckOff: [],
  };
}

/** The same display for another frame; steering follows its width unless it has a number of its own. */
export function withFrame(display: Display, frame: Frame, steered: 'width' | 'as before'): Display {
  const bands = bandsOf(frame);
  return {
    ...display,
    frame,
    bands,
    wiring: bands.map((_, i) => i),
    stepM: steered === 'width' ? widthOf(bands) : display.stepM,
  };
}

/** Largest difference between two drawn layouts, edge by edge; infinite where sections differ in number. */
export function layoutDistanceM(a: readonly (Band | null)[], b: readonly (Band | null)[]): number {
  if (a.length !== b.length) return Number.POSITIVE_INFINITY;
  return a.reduce((most, x, i) => {
    const y = b[i];
    if (x === null || y === null) return x === y ? most : Number.POSITIVE_INFINITY;
    return Math.max(most, Math.abs(x.left - y.left), Math.abs(x.right - y.right));
  }, 0);
}
