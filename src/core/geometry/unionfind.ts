/** Disjoint sets over 0..n-1 in one array; with `parity`, each element also records whether it runs with (0) or against (1) its root. */
export class Sets {
  private readonly parent: Int32Array;
  private readonly parity: Uint8Array;
  private readonly size: Int32Array;

  constructor(n: number) {
    this.parent = new Int32Array(n);
    this.parity = new Uint8Array(n);
    this.size = new Int32Array(n).fill(1);
    alone(this.parent);
  }

  find(i: number): number {
    const { parent, parity } = this;
    let root = i;
    let p = 0;
    while (parent[root] !== root) {
      p ^= parity[root];
      root = parent[root];
    }
    // Second walk: hang everything on the root with its own parity.
    let at = i;
    while (parent[at] !== root && at !== root) {
      const next = parent[at];
      const own = parity[at];
      parent[at] = root;
      parity[at] = p;
      p ^= own;
      at = next;
    }
    return root;
  }

  /** Joins the sets of i and j; `flip` says that i and j run against each other. False when they were together already. */
  join(i: number, j: number, flip = 0): boolean {
    const { parent, parity, size } = this;
    const a = this.find(i);
    const b = this.find(j);
    if (a === b) return false;
    const f = (parent[i] === i ? 0 : parity[i]) ^ (parent[j] === j ? 0 : parity[j]) ^ flip;
    const small = size[a] < size[b] ? a : b;
    const big = small === a ? b : a;
    parent[small] = big;
    parity[small] = f;
    size[big] += size[small];
    return true;
  }

  /** The sets numbered from 0 in the order in which they first appear, and which elements run against their set. */
  numbered(): { group: Int32Array; against: Uint8Array; groups: number } {
    const n = this.parent.length;
    const number = new Int32Array(n).fill(-1);
    const group = new Int32Array(n);
    const against = new Uint8Array(n);
    let groups = 0;
    for (let i = 0; i < n; i++) {
      const root = this.find(i);
      if (number[root] < 0) number[root] = groups++;
      group[i] = number[root];
      against[i] = this.parent[i] === i ? 0 : this.parity[i];
    }
    return { group, against, groups };
  }
}

function alone(parent: Int32Array): void {
  for (let i = 0; i < parent.length; i++) parent[i] = i;
}
