import type { VNode } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';

/** A drawing laid out for its available width, in CSS pixels, and again when that changes: at true size its text keeps its own. */
export function Fitted({ children }: { children: (width: number) => VNode }) {
  const ref = useRef<HTMLDivElement>(null);
  const [width, setWidth] = useState(900);
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
  return <div ref={ref}>{children(width)}</div>;
}
