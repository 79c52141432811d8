import type { ComponentChildren } from 'preact';

/** One numbered part of the sheet. */
export function Part(props: { number: number; id: string; title: string; lead: string; children: ComponentChildren }) {
  return (
    <section class="part" id={props.id} aria-labelledby={`${props.id}-title`}>
      <div class="head">
        <span class="number" aria-hidden="true">
          {props.number}
        </span>
        <h2 id={`${props.id}-title`}>{props.title}</h2>
        <p class="lead">{props.lead}</p>
      </div>
      <div class="body">{props.children}</div>
    </section>
  );
}
