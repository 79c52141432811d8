/** The candidate closest to `word` by edits, or null when none is near enough to be worth saying. */
export function nearest(word: string, candidates: readonly string[]): string | null {
  const w = word.toLowerCase();
  let best: string | null = null;
  let least = Math.max(2, Math.ceil(word.length / 2)) + 0.5;
  for (const c of candidates) {
    const d = edits(w, c.toLowerCase());
    if (d < least) {
      least = d;
      best = c;
    }
  }
  return best;
}

/** Insertions, deletions and exchanges that turn `a` into `b` (Levenshtein distance). */
export function edits(a: string, b: string): number {
  let row = Array.from({ length: b.length + 1 }, (_, i) => i);
  for (let i = 1; i <= a.length; i++) {
    const next = [i];
    for (let j = 1; j <= b.length; j++)
      next[j] = Math.min(next[j - 1] + 1, row[j] + 1, row[j - 1] + (a[i - 1] === b[j - 1] ? 0 : 1));
    row = next;
  }
  return row[b.length];
}
