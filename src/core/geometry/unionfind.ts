/** Disjoint sets over 0..n-1 in one array; with `parity`, each element also knows whether it runs with (0) or against (1) its root. */
export interface Sets {
  find(i: number): number;
  /** 0 or 1 against the root, as of the last `find(i)`. */
  parityOf(i: number): number;
  /** Joins the sets of i and j; `flip` says that i and j run against each other. False when they were together already. */
  join(i: number, j: number, flip?: number): boolean;
}

export function makeSets(n: number): Sets {
  const parent = new Int32Array(n);
  const parity = new Uint8Array(n);
  const size = new Int32Array(n).fill(1);
  for (let i = 0; i < n; i++) parent[i] = i;

  function find(i: number): number {
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

  return {
    find,
    parityOf(i) {
      find(i);
      return parent[i] === i ? 0 : parity[i];
    },
    join(i, j, flip = 0) {
      const a = find(i);
      const b = find(j);
      if (a === b) return false;
      const f = (parent[i] === i ? 0 : parity[i]) ^ (parent[j] === j ? 0 : parity[j]) ^ flip;
      const small = size[a] < size[b] ? a : b;
      const big = small === a ? b : a;
      parent[small] = big;
      parity[small] = f;
      size[big] += size[small];
      return true;
    },
  };
}

/** Sets 0..n-1 numbered from 0 in the order in which they first appear, and which elements run against their set. */
export function numberSets(sets: Sets, n: number): { group: Int32Array; against: Uint8Array; groups: number } {
  const number = new Map<number, number>();
  const group = new Int32Array(n);
  const against = new Uint8Array(n);
  for (let i = 0; i < n; i++) {
    const root = sets.find(i);
    let id = number.get(root);
    if (id === undefined) {
      id = number.size;
      number.set(root, id);
    }
    group[i] = id;
    against[i] = sets.parityOf(i);
  }
  return { group, against, groups: number.size };
}
