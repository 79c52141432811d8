import { grown } from '../geometry/grown.ts';

/** What happens along an edge, as the sweep holds it. */
export interface Events {
  /** How many. */
  readonly n: number;
  /** They are taken in this order. */
  readonly order: Int32Array;
  /** The slot of each event's shape; below zero, -1 - the place of a ring. */
  readonly slot: Int32Array;
  readonly dLeft: Int8Array;
  readonly dRight: Int8Array;
  /** Winding of each slot's shape on either side of the edge. */
  readonly left: Int32Array;
  readonly right: Int32Array;
}

/**
 * The tangled shapes (see `Tangled`) that lie over one edge. Of each ring only the parity counts, left and right of the edge; a shape's own winding
 * is 1 where one of its parts covers the ground, else 0, so that the walk along the edge need not handle rings.
 */
export class Tangles {
  any = false;
  private count = 0;
  private slots: number[] = [];
  private roles: Int32Array[] = [];
  /** First place of each tangle in the arrays below: its rings (in `inHole`) and its parts. */
  private first: number[] = [];
  private used = 0;
  /** The tangle of each place. */
  private tangleOf = new Int32Array(64);
  /** Left and right in turn. Per place: whether a hole ring lies there; whether a part's outer ring does; how many of its holes do. Per tangle: parts. */
  private inHole = new Uint8Array(128);
  private inOuter = new Uint8Array(128);
  private holes = new Int32Array(128);
  private parts = new Int32Array(16);

  clear(): void {
    this.any = false;
    this.count = 0;
    this.used = 0;
  }

  /** Begins the shape of slot `slot`; its number here. */
  open(slot: number, roles: Int32Array): number {
    const t = this.count++;
    this.any = true;
    this.slots[t] = slot;
    this.roles[t] = roles;
    this.first[t] = this.used;
    // No more parts than rings; parts count from 1.
    const end = this.used + roles.length + 1;
    if (2 * end > this.inHole.length) this.grow(2 * end);
    if (2 * this.count > this.parts.length) {
      const bigger = new Int32Array(4 * this.count);
      bigger.set(this.parts);
      this.parts = bigger;
    }
    this.inHole.fill(0, 2 * this.used, 2 * end);
    this.inOuter.fill(0, 2 * this.used, 2 * end);
    this.holes.fill(0, 2 * this.used, 2 * end);
    this.tangleOf.fill(t, this.used, end);
    this.parts[2 * t] = 0;
    this.parts[2 * t + 1] = 0;
    this.used = end;
    return t;
  }

  private grow(size: number): void {
    this.inHole = grown(this.inHole, 2 * size);
    this.inOuter = grown(this.inOuter, 2 * size);
    this.holes = grown(this.holes, 2 * size);
    this.tangleOf = grown(this.tangleOf, size);
  }

  /** The slot that represents one ring: below 0. */
  slotOf(tangle: number, ring: number): number {
    return -1 - (this.first[tangle] + ring);
  }

  /** A ring's edge is crossed, on both sides of the swept edge. */
  turnBoth(tangle: number, ring: number): void {
    this.turn(this.first[tangle] + ring, 0);
    this.turn(this.first[tangle] + ring, 1);
  }

  /** The ring of a slot below 0 lies on the start of the swept edge. */
  turnRight(slot: number): void {
    this.turn(-1 - slot, 1);
  }

  private turn(place: number, side: 0 | 1): void {
    const t = this.tangleOf[place];
    const role = this.roles[t][place - this.first[t]];
    const part = 2 * (this.first[t] + Math.abs(role)) + side;
    const before = this.inOuter[part] === 1 && this.holes[part] === 0 ? 1 : 0;
    if (role > 0) this.inOuter[part] ^= 1;
    else {
      const within = 1 - this.inHole[2 * place + side];
      this.inHole[2 * place + side] = within;
      this.holes[part] += within === 1 ? 1 : -1;
    }
    this.parts[2 * t + side] += (this.inOuter[part] === 1 && this.holes[part] === 0 ? 1 : 0) - before;
  }

  /** With the events of `s` in order: turns events of rings into events of shapes. */
  settle(s: Events): void {
    const { parts, slots } = this;
    for (let t = 0; t < this.count; t++) {
      s.left[slots[t]] = parts[2 * t] > 0 ? 1 : 0;
      s.right[slots[t]] = parts[2 * t + 1] > 0 ? 1 : 0;
    }
    for (let i = 0; i < s.n; i++) {
      const e = s.order[i];
      if (s.slot[e] >= 0) continue;
      const place = -1 - s.slot[e];
      const t = this.tangleOf[place];
      const left = parts[2 * t] > 0 ? 1 : 0;
      const right = parts[2 * t + 1] > 0 ? 1 : 0;
      if (s.dLeft[e] !== 0) this.turn(place, 0);
      if (s.dRight[e] !== 0) this.turn(place, 1);
      s.slot[e] = slots[t];
      s.dLeft[e] = (parts[2 * t] > 0 ? 1 : 0) - left;
      s.dRight[e] = (parts[2 * t + 1] > 0 ? 1 : 0) - right;
    }
  }
}
