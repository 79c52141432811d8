/** The items under the key of each, in their order: `Map.groupBy` of ECMAScript 2024, which Node 20 does not have. */
export function groupBy<T, K>(items: Iterable<T>, keyOf: (item: T, index: number) => K): Map<K, T[]> {
  const groups = new Map<K, T[]>();
  let index = 0;
  for (const item of items) {
    const key = keyOf(item, index++);
    const group = groups.get(key);
    // A copy for each item would make large groups quadratic.
    if (group) group.push(item);
    else groups.set(key, [item]);
  }
  return groups;
}
