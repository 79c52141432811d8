/** Roles that only a log of points has: the distance of each interval, the first section that was on, and how many were. */
export const POINT_ROLES: readonly string[] = ['distance', 'first', 'count'];
