/** Numbers by bucket: those of bucket k are `list[start[k]]` to `list[start[k + 1] - 1]`, rising. */
interface Buckets {
  start: Uint32Array;
  list: Uint32Array;
}

/** Puts each number i below `n` into bucket `of[i]`, which is below `buckets`. One function for each loop: an engine compiles them once, whoever calls. */
export function intoBuckets(of: Int32Array, n: number, buckets: number): Buckets {
  const start = new Uint32Array(buckets + 2);
  tally(of, n, start);
  sumUp(start);
  const list = new Uint32Array(n);
  place(of, n, start, list);
  return { start: start.subarray(0, buckets + 1), list };
}

/** Two places ahead, so that `place` can move each bucket's start on to its end, which is the start of the next. */
function tally(of: Int32Array, n: number, start: Uint32Array): void {
  for (let i = 0; i < n; i++) start[of[i] + 2]++;
}

/** Makes each number the sum of itself and all before it. */
export function sumUp(counts: Uint32Array): void {
  let sum = 0;
  for (let k = 0; k < counts.length; k++) {
    sum += counts[k];
    counts[k] = sum;
  }
}

function place(of: Int32Array, n: number, start: Uint32Array, list: Uint32Array): void {
  for (let i = 0; i < n; i++) list[start[of[i] + 1]++] = i;
}
