import type { RefObject } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';

/** Width of an element in CSS pixels, followed as it changes: drawings are laid out at true size, so that their text keeps its own. */
export function useWidth(first: number): [RefObject<HTMLElement | null>, number] {
  const ref = useRef<HTMLElement>(null);
  const [width, setWidth] = useState(first);
  useEffect(() => {
    const element = ref.current;
    if (!element) return;
    const observer = new ResizeObserver(([entry]) => {
      const w = Math.floor(entry.contentRect.width);
      // Hidden in print or in a closed part: keep the last width.
      if (w > 0) setWidth(w);
    });
    observer.observe(element);
    return () => observer.disconnect();
  }, []);
  return [ref, width];
}
