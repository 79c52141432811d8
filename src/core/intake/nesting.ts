import {
  type Contacts,
  CROSSES,
  findContacts,
  GREATER_INSIDE,
  type RingsAtHand,
  SMALLER_INSIDE,
} from './ring-contacts.ts';
import { LookBudget, RingLocator } from './ring-inside.ts';
import { doubleArea } from './ring-winding.ts';

/**
 * Why the rings of a record are not a valid polygon. Where several reasons hold, the first in this order is reported.
 * `crosses-itself`: a ring crosses itself (a bow-tie). `hole-crosses`: a hole crosses another ring. `parts-overlap`: parts of a record overlap.
 * `ring-repeated`: a ring appears twice. `hole-outside`: a ring that was written as a hole lies outside the ring that it should cut.
 * `hole-in-hole`: a ring that was written as a hole lies in another hole.
 *
 * One rule for invalid rings, here and in `coverage/tangles.ts`: a ring alone is even-odd; rings that do not cross are ground and hole in turn; of those that
 * cross, the ones written as outer rings are ground, and holes only take away. GEOS has two rules: `make_valid` by lines makes ground of the part of a hole
 * outside its shell, and by structure fills what a ring goes around twice. Crossings stay exact, because coverage follows each ring's parity; nothing is
 * redrawn. Checked with GEOS 3.11 (`tests/intake/geos-rings.test.ts`).
 */
export const RING_KINDS = [
  'crosses-itself',
  'hole-crosses',
  'parts-overlap',
  'ring-repeated',
  'hole-outside',
  'hole-in-hole',
] as const;
export type RingKind = (typeof RING_KINDS)[number];

/** The result of sorting the rings of one record. */
export interface SortedRings {
  /** What each ring is, as in `Tangled`. */
  roles: Int32Array;
  /** Rings cross themselves or each other, so that winding numbers do not show what the record covers. */
  tangled: boolean;
  /** The first of the kinds that may hold; for the first three, areas decide. */
  kind: RingKind | null;
}

/**
 * Finds which rings of one record lie inside which and which cross, by their points and not by their boxes. The rule for invalid rings follows
 * `make_valid` of GEOS (method "structure") but for rings alone, which are even-odd: rings that do not cross each other are ground and hole in
 * turn, from the outside inward, whatever they were written as; of rings that cross, those written as outer rings are ground, and the others holes in
 * the ground around them or across them.
 */
export class RingSorter implements RingsAtHand {
  readonly looks = new LookBudget();
  readonly locator: RingLocator;

  constructor(
    readonly xy: Int32Array,
    readonly ringStart: Uint32Array,
  ) {
    this.locator = new RingLocator(xy, ringStart, this.looks);
  }

  /**
   * Sorts the rings from `first` to `end`. `polygon` numbers the polygon of each, rising; `leads` is 1 for rings written as outer ones; `byPlace` means
   * that the file does not distinguish holes from islands (shapefile). Null when that takes more comparisons than any real record needs.
   */
  sort(first: number, end: number, polygon: Int32Array, leads: Uint8Array, byPlace: boolean): SortedRings | null {
    const n = end - first;
    this.looks.begin(this.ringStart[end] - this.ringStart[first]);
    this.locator.begin();
    const contacts = findContacts(this, first, end);
    if (contacts === null) return null;
    const { self, pairs } = contacts;
    const nest =
      n > 1 ? this.nest(first, end, polygon, pairs) : { depth: new Uint32Array(n), around: [[]], boxM2: [0] };
    if (nest === null) return null;
    const { depth, around, boxM2 } = nest;
    const crossed = new Int32Array(n).fill(-1);
    for (const [key, how] of pairs) {
      if (how !== CROSSES) continue;
      const [a, b] = [key % n, Math.floor(key / n)];
      if (polygon[a] !== polygon[b]) continue;
      // A hole is cut from an outer ring that it crosses.
      if (crossed[a] < 0 || (leads[b] === 1 && leads[crossed[a]] === 0)) crossed[a] = b;
      if (crossed[b] < 0 || (leads[a] === 1 && leads[crossed[b]] === 0)) crossed[b] = a;
    }
    const roles = new Int32Array(n);
    let parts = 0;
    for (let i = 0; i < n; i++) {
      const ground = crossed[i] >= 0 ? leads[i] === 1 : depth[i] % 2 === 0;
      if (ground) roles[i] = ++parts;
    }
    for (let i = 0; i < n; i++) {
      if (roles[i] !== 0) continue;
      // The nearest ground around it, or else the outer ring that it crosses.
      let from = -1;
      for (const k of around[i]) if (roles[k] > 0 && (from < 0 || boxM2[k] < boxM2[from])) from = k;
      if (from < 0 && crossed[i] >= 0 && leads[crossed[i]] === 1) from = crossed[i];
      roles[i] = from >= 0 ? -roles[from] : ++parts;
    }
    const tangled = self.includes(1) || [...pairs.values()].includes(CROSSES);
    return { roles, tangled, kind: this.kindOf(first, contacts, roles, depth, polygon, leads, byPlace) };
  }

  private kindOf(
    first: number,
    { self, pairs }: Contacts,
    roles: Int32Array,
    depth: Uint32Array,
    polygon: Int32Array,
    leads: Uint8Array,
    byPlace: boolean,
  ): RingKind | null {
    const n = roles.length;
    if (self.includes(1)) return 'crosses-itself';
    let parts = false;
    for (const [key, how] of pairs) {
      if (how !== CROSSES) continue;
      if (roles[key % n] < 0 || roles[Math.floor(key / n)] < 0) return 'hole-crosses';
      parts = true;
    }
    if (parts || (polygon[n - 1] > polygon[0] && this.boxesMeet(first, polygon))) return 'parts-overlap';
    if (byPlace) return null;
    let odd: RingKind | null = null;
    for (let i = 0; i < n; i++) {
      if (depth[i] > 1) odd ??= 'hole-in-hole';
      // A ring written as a hole that no other ring holds, or an outer ring that lies in its hole.
      else if (depth[i] === leads[i]) return 'hole-outside';
    }
    return odd;
  }

  /** Whether the boxes of two polygons meet. */
  private boxesMeet(first: number, polygon: Int32Array): boolean {
    const boxes: number[][] = [];
    for (let i = 0; i < polygon.length; i++) {
      if (i > 0 && polygon[i] === polygon[i - 1]) continue;
      boxes.push(this.boxOf(first + i));
    }
    boxes.sort((a, b) => a[0] - b[0]);
    for (let i = 0; i < boxes.length; i++) {
      for (let k = i + 1; k < boxes.length && boxes[k][0] < boxes[i][2]; k++) {
        this.looks.spend(1);
        if (this.looks.isSpent()) return true;
        if (boxes[k][1] < boxes[i][3] && boxes[k][3] > boxes[i][1]) return true;
      }
    }
    return false;
  }

  private boxOf(ring: number): [number, number, number, number] {
    let [x0, y0, x1, y1] = [Infinity, Infinity, -Infinity, -Infinity];
    for (let p = this.ringStart[ring]; p < this.ringStart[ring + 1]; p++) {
      x0 = Math.min(x0, this.xy[2 * p]);
      x1 = Math.max(x1, this.xy[2 * p]);
      y0 = Math.min(y0, this.xy[2 * p + 1]);
      y1 = Math.max(y1, this.xy[2 * p + 1]);
    }
    return [x0, y0, x1, y1];
  }

  /**
   * For each ring from `first` to `end`, in how many others of its polygon it lies, and in which. `pairs` holds the relation
   * of those in contact.
   */
  private nest(
    first: number,
    end: number,
    polygon: Int32Array,
    pairs: Map<number, number>,
  ): { depth: Uint32Array; around: number[][]; boxM2: ArrayLike<number> } | null {
    const n = end - first;
    const box = new Float64Array(4 * n);
    const size = new Float64Array(n);
    for (let i = 0; i < n; i++) {
      box.set(this.boxOf(first + i), 4 * i);
      size[i] = Math.abs(doubleArea(this.xy, this.ringStart[first + i], this.ringStart[first + i + 1]));
    }
    const boxM2 = size.map((_, i) => (box[4 * i + 2] - box[4 * i]) * (box[4 * i + 3] - box[4 * i + 1]));
    const byLeft = Uint32Array.from({ length: n }, (_, i) => i).sort(
      (a, b) => box[4 * a] - box[4 * b] || boxM2[b] - boxM2[a],
    );
    const depth = new Uint32Array(n);
    const around: number[][] = Array.from({ length: n }, () => []);
    for (let i = 0, from = 0; i < n; i++) {
      const outer = byLeft[i];
      while (box[4 * byLeft[from]] < box[4 * outer]) from++;
      for (let k = from; k < n; k++) {
        const inner = byLeft[k];
        if (box[4 * inner] > box[4 * outer + 2]) break;
        this.looks.spend(1);
        if (this.looks.isSpent()) return null;
        if (inner === outer || polygon[inner] !== polygon[outer]) continue;
        if (box[4 * inner + 1] < box[4 * outer + 1] || box[4 * inner + 2] > box[4 * outer + 2]) continue;
        if (box[4 * inner + 3] > box[4 * outer + 3]) continue;
        const same = boxM2[inner] === boxM2[outer];
        if (same && (size[inner] > size[outer] || (size[inner] === size[outer] && inner < outer))) continue;
        const key = Math.max(inner, outer) * n + Math.min(inner, outer);
        const how = pairs.get(key);
        if (how === CROSSES) continue;
        const within =
          how === undefined
            ? this.locator.inside(first + inner, first + outer) > 0
            : how === (inner > outer ? GREATER_INSIDE : SMALLER_INSIDE);
        if (this.looks.isSpent()) return null;
        if (!within) continue;
        depth[inner]++;
        around[inner].push(outer);
        // Lists of rings in rings use memory, so they count.
        this.looks.spend(2);
      }
    }
    return { depth, around, boxM2 };
  }
}
