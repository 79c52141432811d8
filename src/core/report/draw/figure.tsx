/** @jsxImportSource preact */
import type { ComponentChildren } from 'preact';

/** What is marked in a drawing, and the action of a click; left out where nothing can be chosen, as on paper. */
export interface Choosing {
  marks: {
    passes: ReadonlySet<number>;
    /** Indices into `evidence.seams`. */
    seams: ReadonlySet<number>;
    /** Recorded sections, counted from the left, 0 first. */
    sections: ReadonlySet<number>;
    /** Both rulers as a whole. */
    rulers: boolean;
  };
  choose(
    what:
      | { kind: 'pass'; pass: number }
      | { kind: 'seam'; passA: number; passB: number }
      | { kind: 'section'; section: number },
  ): void;
}

/** Spread over an element: a click on it calls `choose`. Nothing where nothing can be chosen. */
export function onChoose(choice: Choosing | undefined, what: Parameters<Choosing['choose']>[0]): object {
  return choice ? { onClick: () => choice.choose(what) } : {};
}

/** A part that is wider than a narrow screen and scrolls on its own, by keyboard too. */
export function Scroll({ name, children }: { name: string; children: ComponentChildren }) {
  return (
    // biome-ignore lint/a11y/noNoninteractiveTabindex: what scrolls must take the keyboard's focus (WCAG 2.1.1).
    <section class="scroll" aria-label={name} tabIndex={0}>
      {children}
    </section>
  );
}

interface FigureProps {
  name: string;
  /** Class of the picture. */
  kind: string;
  /** Pixels. */
  width: number;
  height: number;
  /** The picture as a sentence, for readers who cannot see it. */
  says: string;
  caption: ComponentChildren;
  children: ComponentChildren;
}

/** A picture at true size, so that its text keeps its own; it scrolls on a narrower screen. */
export function Figure({ name, kind, width, height, says, caption, children }: FigureProps) {
  return (
    <figure class="drawing">
      <Scroll name={name}>
        <svg class={kind} width={width} height={height} viewBox={`0 0 ${width} ${height}`} role="img" aria-label={says}>
          {children}
        </svg>
      </Scroll>
      <figcaption>{caption}</figcaption>
    </figure>
  );
}
