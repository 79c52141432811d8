import { options, type VNode } from 'preact';

// Marks that turn the direction of writing, and controls beyond ASCII. Line breaks and the joiners of the page's own texts stay.
const TURNING = /[\u007F-\u009F\u061C\u200E\u200F\u202A-\u202E\u2066-\u2069]/g;

const marked = (text: string): string => text.replace(TURNING, '\uFFFD');

/** Attributes that are shown or read out. */
const SHOWN = ['title', 'aria-label', 'alt', 'placeholder'] as const;

/**
 * Names come out of files of strangers, and stand in all parts of the page: whatever text is drawn from here on, a mark that turns the direction of
 * writing is shown as U+FFFD, as in every report.
 */
export function markTurns(): void {
  options.vnode = (vnode: VNode) => {
    const own = vnode as { type: unknown; props: unknown };
    if (own.type === null || own.type === undefined) {
      if (typeof own.props === 'string') own.props = marked(own.props);
    } else if (typeof own.type === 'string') {
      const props = own.props as Record<string, unknown>;
      for (const name of SHOWN) {
        const text = props[name];
        if (typeof text === 'string') props[name] = marked(text);
      }
    }
  };
}
