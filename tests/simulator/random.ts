/** A seeded stream of random numbers (sfc32, public domain; seeds are spread with splitmix32). The same seed gives the same map on any machine. */
export class Random {
  private a: number;
  private b: number;
  private c: number;
  private d = 1;

  constructor(seed: number) {
    let z = seed | 0;
    const spread = (): number => {
      z = (z + 0x9e3779b9) | 0;
      let t = z ^ (z >>> 16);
      t = Math.imul(t, 0x21f0aaad);
      t ^= t >>> 15;
      t = Math.imul(t, 0x735a2d97);
      return t ^ (t >>> 15);
    };
    this.a = spread();
    this.b = spread();
    this.c = spread();
    for (let i = 0; i < 12; i++) this.next();
  }

  /** 0 to below 1. */
  next(): number {
    const t = (((this.a + this.b) | 0) + this.d) | 0;
    this.d = (this.d + 1) | 0;
    this.a = this.b ^ (this.b >>> 9);
    this.b = (this.c + (this.c << 3)) | 0;
    this.c = ((this.c << 21) | (this.c >>> 11)) + t;
    return (t >>> 0) / 4294967296;
  }

  between(low: number, high: number): number {
    return low + (high - low) * this.next();
  }

  /** Both ends included. */
  int(low: number, high: number): number {
    return Math.floor(this.between(low, high + 1));
  }

  chance(p: number): boolean {
    return this.next() < p;
  }

  /** Standard deviation 1 (Box and Muller 1958). */
  normal(): number {
    return Math.sqrt(-2 * Math.log(1 - this.next())) * Math.cos(2 * Math.PI * this.next());
  }

  pick<T>(list: readonly T[]): T {
    return list[Math.floor(this.next() * list.length)];
  }

  weighted<T>(list: readonly (readonly [T, number])[]): T {
    let left = this.next() * list.reduce((sum, [, w]) => sum + w, 0);
    for (const [item, w] of list) {
      left -= w;
      if (left < 0) return item;
    }
    return list[list.length - 1][0];
  }

  /** Another stream, so that drawing more in one place does not change another. */
  fork(): Random {
    return new Random(Math.floor(this.next() * 4294967296));
  }
}
