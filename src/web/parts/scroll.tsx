import type { ComponentChildren, Ref } from 'preact';

/** A part that is wider than a narrow screen and scrolls by itself; the keyboard can reach it to do so. */
export function Scroll(props: { name: string; inner?: Ref<HTMLElement>; children: ComponentChildren }) {
  return (
    // biome-ignore lint/a11y/noNoninteractiveTabindex: what scrolls must take the keyboard's focus (WCAG 2.1.1).
    <section class="scroll" aria-label={props.name} tabIndex={0} {...(props.inner ? { ref: props.inner } : {})}>
      {props.children}
    </section>
  );
}
