/** A small seeded source of numbers (counter-based 32-bit mixing). The same seed gives the same sequence everywhere. */
export class Random {
  private state: number;
  private spare: number | null = null;

  constructor(seed: number) {
    this.state = (Math.imul(seed | 0, 0x9e3779b1) ^ 0x5bf03635) | 0;
  }

  /** 0 up to, not including, 1. */
  next(): number {
    this.state = (this.state + 0x9e3779b9) | 0;
    let z = this.state;
    z = Math.imul(z ^ (z >>> 16), 0x21f0aaad);
    z = Math.imul(z ^ (z >>> 15), 0x735a2d97);
    return ((z ^ (z >>> 15)) >>> 0) / 4294967296;
  }

  between(low: number, high: number): number {
    return low + (high - low) * this.next();
  }

  /** Mean 0, standard deviation 1 (polar method). */
  normal(): number {
    if (this.spare !== null) {
      const v = this.spare;
      this.spare = null;
      return v;
    }
    for (;;) {
      const a = this.between(-1, 1);
      const b = this.between(-1, 1);
      const q = a * a + b * b;
      if (q >= 1 || q === 0) continue;
      const m = Math.sqrt((-2 * Math.log(q)) / q);
      this.spare = b * m;
      return a * m;
    }
  }

  shuffle<T>(list: T[]): void {
    for (let i = list.length - 1; i > 0; i--) {
      const j = Math.floor(this.next() * (i + 1));
      [list[i], list[j]] = [list[j], list[i]];
    }
  }
}

/** A value that wanders about 0 with standard deviation `sd` and forgets itself within `memory` (any unit, the same as `step`). */
export class Wander {
  private value: number;

  constructor(
    private readonly random: Random,
    private readonly sd: number,
    private readonly memory: number,
  ) {
    this.value = sd * random.normal();
  }

  after(step: number): number {
    const keep = Math.exp(-step / this.memory);
    this.value = keep * this.value + Math.sqrt(1 - keep * keep) * this.sd * this.random.normal();
    return this.value;
  }
}
