/**
 * Coverage against the exact oracle, for as long as you like: `npx tsx tests/bench/soak.ts [rounds] [first seed]`. Prints the smallest
 * input it can find for each disagreement; ends with status 1 if there was one.
 */
import { disagreements } from '../coverage/agree.ts';
import { nastyShapes, type Rings, random } from '../coverage/tools.ts';

const rounds = Number(process.argv[2] ?? 20_000);
const first = Number(process.argv[3] ?? 1);
const check = (list: readonly Rings[]): string[] => {
  try {
    return disagreements(list);
  } catch (e) {
    return [`threw ${String(e)}`];
  }
};

/** Leaves out shapes, rings and points as long as the disagreement stays. */
function smallest(list: Rings[]): Rings[] {
  for (;;) {
    const tries: Rings[][] = [];
    list.forEach((rings, i) => {
      tries.push(list.filter((_, k) => k !== i));
      rings.forEach((ring, r) => {
        const put = (other: number[] | null): Rings[] =>
          list.map((s, k) =>
            k !== i ? s : other === null ? s.filter((_, q) => q !== r) : s.map((g, q) => (q === r ? other : g)),
          );
        if (rings.length > 1) tries.push(put(null));
        for (let v = 0; ring.length > 6 && v < ring.length; v += 2)
          tries.push(put([...ring.slice(0, v), ...ring.slice(v + 2)]));
      });
    });
    const next = tries.find((t) => t.length > 0 && check(t).length > 0);
    if (!next) return list;
    list = next;
  }
}

let bad = 0;
for (let seed = first; seed < first + rounds; seed++) {
  const side = [3, 5, 8, 8, 8, 20, 60][seed % 7];
  const list = nastyShapes(random(seed), side);
  const found = check(list);
  if (found.length > 0) {
    bad++;
    const least = smallest(list);
    console.log(`seed ${seed}: ${JSON.stringify(least)}\n  ${check(least).join('\n  ')}`);
  }
  if ((seed - first + 1) % 1000 === 0) console.log(`${seed - first + 1} rounds, ${bad} disagreements`);
}
console.log(`${rounds} rounds from seed ${first}, ${bad} disagreements`);
process.exitCode = bad > 0 ? 1 : 0;
