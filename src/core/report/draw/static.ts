import { h, type VNode } from 'preact';
import { renderToString } from 'preact-render-to-string';
import { clean } from '../../shared/safe.ts';
import { Markup } from '../markup.ts';

/** A drawing as markup. Text in it is escaped, and keeps no control characters and no hidden or turning marks. */
export function drawn<P extends object>(drawing: (props: P) => VNode, props: P): Markup {
  return new Markup(`${clean(renderToString(h(drawing, props)))}\n`);
}
