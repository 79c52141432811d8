/** Children of a node, the format's usual number. */
export const NODE_SIZE = 16;
/** West, south, east and north as doubles, then an offset of 64 bits. */
const NODE_BYTES = 40;

/**
 * The index of a FlatGeobuf file, version 3 of its specification: a packed R-tree, its root first and its leaves last. `boxes` are west, south,
 * east and north of each feature in the order of the file, `starts` the byte at which each begins behind the index. Features keep their order:
 * records follow each other along passes, so that sixteen neighbors in the file are neighbors on the ground, and no reader asks for more.
 */
export function packedRTree(boxes: Float64Array, starts: Float64Array): Uint8Array {
  const sizes = [starts.length];
  while (sizes[sizes.length - 1] > 1 || sizes.length === 1) sizes.push(Math.ceil(sizes[sizes.length - 1] / NODE_SIZE));
  const nodes = sizes.reduce((a, b) => a + b, 0);
  const view = new DataView(new ArrayBuffer(nodes * NODE_BYTES));
  const put = (node: number, box: readonly number[], offset: number): void => {
    for (let k = 0; k < 4; k++) view.setFloat64(node * NODE_BYTES + 8 * k, box[k], true);
    view.setBigUint64(node * NODE_BYTES + 32, BigInt(offset), true);
  };
  const boxAt = (node: number): number[] => [0, 1, 2, 3].map((k) => view.getFloat64(node * NODE_BYTES + 8 * k, true));
  let first = nodes - sizes[0];
  for (let i = 0; i < starts.length; i++) put(first + i, Array.from(boxes.subarray(4 * i, 4 * i + 4)), starts[i]);
  for (let level = 1; level < sizes.length; level++) {
    const above = first - sizes[level];
    for (let i = 0; i < sizes[level]; i++) {
      const from = first + i * NODE_SIZE;
      const to = Math.min(from + NODE_SIZE, first + sizes[level - 1]);
      const box = boxAt(from);
      for (let c = from + 1; c < to; c++) {
        const [w, s, e, n] = boxAt(c);
        box[0] = Math.min(box[0], w);
        box[1] = Math.min(box[1], s);
        box[2] = Math.max(box[2], e);
        box[3] = Math.max(box[3], n);
      }
      put(above + i, box, from);
    }
    first = above;
  }
  return new Uint8Array(view.buffer);
}
