/** The numbers of `from` in an array of `length`, zeros after them. */
export function grown<T extends Int8Array | Uint8Array | Int32Array | Uint32Array | Float64Array>(
  from: T,
  length: number,
): T {
  const to = new (from.constructor as new (length: number) => T)(length);
  to.set(from);
  return to;
}
