/** The least box around a map, lattice steps. */
export interface Extent {
  minX: number;
  minY: number;
  maxX: number;
  maxY: number;
}
