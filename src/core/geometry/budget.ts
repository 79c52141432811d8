import { UserError } from '../shared/messages.ts';

/**
 * A limit of comparisons for one search: `most` for any map, and `each` for each of its `count` items. A search that is fast on any real map can be
 * quadratic on an artificial one; there it ends with an error.
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

  /** Subtracts `looks`; throws `UserError` when none are left. */
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
