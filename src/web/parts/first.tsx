import { useEffect, useRef } from 'preact/hooks';
import type { FirstPicture } from '../../worker/api.ts';
import { legendOn, useScheme } from '../map/fieldmap.tsx';
import { placeOf, roomAround } from '../map/library.ts';
import type { Bounds } from '../map/place.ts';

/** The map as read, while it is being checked. */
export function FirstPart({ pictures }: { pictures: readonly FirstPicture[] }) {
  const whole = isWhole(pictures);
  return (
    <section class="part field" id="first" aria-label="The map as read">
      <div class="mapframe">
        <div class="mapbox">
          <AsRead pictures={pictures} />
        </div>
      </div>
      <p class="explain">
        {whole
          ? 'The map as read. What it shows is being worked out.'
          : 'The map as far as it was read. More of it is coming.'}
      </p>
    </section>
  );
}

/** Every part of the map is on the pictures. */
const isWhole = (pictures: readonly FirstPicture[]): boolean =>
  pictures.length > 0 && pictures.length === pictures[0].parts && pictures.every((p) => p.whole);

/** Where records lie, in one tint, as the map that takes its place will show the whole field. */
export function AsRead({ pictures }: { pictures: readonly FirstPicture[] }) {
  const canvas = useRef<HTMLCanvasElement>(null);
  const scheme = useScheme();
  useEffect(() => {
    const { current } = canvas;
    if (!current) return;
    const draw = (): void => {
      drawParts(current, pictures);
      if (isWhole(pictures)) current.dataset.ready = 'yes';
    };
    // It is drawn once at first, too.
    const sized = new ResizeObserver(draw);
    sized.observe(current);
    return () => sized.disconnect();
  }, [pictures, scheme]);
  return <canvas class="asread" ref={canvas} role="img" aria-label="The field, as its records lie" />;
}

function drawParts(canvas: HTMLCanvasElement, pictures: readonly FirstPicture[]): void {
  const ratio = devicePixelRatio;
  const [width, height] = [canvas.clientWidth, canvas.clientHeight];
  canvas.width = Math.round(width * ratio);
  canvas.height = Math.round(height * ratio);
  // Two pictures are drawn faster without a graphics card than they are handed to one.
  const paint = canvas.getContext('2d', { willReadFrequently: true });
  if (!paint || width === 0 || height === 0) return;
  const boxes = pictures.map((p) => p.box);
  const side = (i: 0 | 1 | 2 | 3, pick: (...all: number[]) => number): number => pick(...boxes.map((b) => b[i]));
  const bounds: Bounds = [side(0, Math.min), side(1, Math.min), side(2, Math.max), side(3, Math.max)];
  const place = placeOf(bounds, { width, height }, roomAround(bounds, { width, height }, legendOn(canvas)));
  paint.scale(ratio, ratio);
  paint.imageSmoothingQuality = 'medium';
  for (const { bitmap, box } of pictures) {
    const [x0, y0] = place(box[0], box[3]);
    const [x1, y1] = place(box[2], box[1]);
    paint.drawImage(bitmap, x0, y0, x1 - x0, y1 - y0);
  }
  // The pictures are black: they get the tint of recorded ground.
  paint.globalCompositeOperation = 'source-in';
  paint.fillStyle = getComputedStyle(canvas).getPropertyValue('--map-recorded').trim();
  paint.fillRect(0, 0, width, height);
}
