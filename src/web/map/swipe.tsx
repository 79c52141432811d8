/** The line between the recorded picture, to its left, and the planted one. A slider: the pointer drags it, arrow keys move it. */
export function Swipe({ split, move }: { split: number; move(split: number): void }) {
  const percent = Math.round(100 * split);
  return (
    <div class="swipe">
      <div class="swipeline" style={{ left: `${100 * split}%` }} aria-hidden="true">
        <span class="swipeside left">recorded</span>
        <span class="swipeside right">planted</span>
      </div>
      <input
        type="range"
        class="noprint"
        min="0"
        max="100"
        step="1"
        value={percent}
        aria-label="Line between the recorded and the planted picture"
        aria-valuetext={`${percent} % recorded, ${100 - percent} % planted`}
        onInput={(e) => move(Number(e.currentTarget.value) / 100)}
      />
    </div>
  );
}
