import type { Unit } from '../../core/planter/types.ts';
import { FOOT_M } from '../../core/planter/units.ts';

/** The longest bar, as a part of the picture's width. */
const LONGEST = 0.25;

/**
 * The scale bar on paper. The picture is printed as it stands on the screen, made larger or smaller to fit: the bar is a part of its width, so that it grows and
 * shrinks with it, which the bar of the map library does not.
 */
export class PaperScale {
  private readonly bar = document.createElement('div');

  constructor(
    picture: HTMLElement,
    private readonly unit: Unit,
  ) {
    this.bar.className = 'paperscale';
    this.bar.setAttribute('aria-hidden', 'true');
    picture.append(this.bar);
  }

  /** `acrossM`: ground across the whole picture, meters. */
  show(acrossM: number): void {
    const [one, word] = this.unit === 'in' ? [FOOT_M, 'ft'] : [1, 'm'];
    const most = (LONGEST * acrossM) / one;
    if (!(most > 0)) return;
    const power = 10 ** Math.floor(Math.log10(most));
    const length = power * ([5, 2, 1].find((n) => n * power <= most) ?? 1);
    this.bar.textContent = `${length} ${word}`;
    this.bar.style.width = `${(100 * length * one) / acrossM}%`;
  }
}
