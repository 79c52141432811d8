import { UserError } from '../shared/messages.ts';

/**
 * The looks that one search may take: `most` for any map, and `each` for each of its `count` things. A search that is fast on any real map can be
 * quadratic on one that no planter draws; there it ends in a sentence.
 */
export class Budget {
  private readonly all: number;
  private left: number;

  constructor(
    most: number,
    each: number,
    count: number,
    private readonly refuse: (all: number) => UserError,
  ) {
    this.all = most + each * count;
    this.left = this.all;
  }

  /** Takes `looks` off; throws `UserError` when they are more than are left. */
  spend(looks: number): void {
    this.left -= looks;
    if (this.left < 0) throw this.refuse(this.all);
  }
}

/** The error for a map whose records are so close together that a search among neighbors would not end; `most` is the limit of comparisons. */
export function tooClose(most: number): UserError {
  return new UserError(
    'too-close',
    `Too many records lie close together: a search among neighbors would take more than ${most} comparisons, the limit for this map.`,
    {},
    'Look at the map in a map viewer: records of a planter lie side by side. Export it without those that repeat others or are tiny.',
  );
}
