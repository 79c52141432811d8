/** What a display remembers of the ground: for each cell, how far it had come when the cell was first covered. What it has only just covered, below its own frame, does not count. */
/** Twice a cell and a little. */
const OWN_M = 0.6;

export class Ground {
  private readonly cells: Float32Array;
  private readonly columns: number;

  constructor(
    private readonly x0: number,
    private readonly y0: number,
    x1: number,
    y1: number,
    private readonly cellM = 0.2,
  ) {
    this.columns = Math.ceil((x1 - x0) / cellM) + 1;
    this.cells = new Float32Array(this.columns * (Math.ceil((y1 - y0) / cellM) + 1)).fill(Number.POSITIVE_INFINITY);
  }

  covered(x: number, y: number, travelledM: number): boolean {
    const i = Math.floor((y - this.y0) / this.cellM) * this.columns + Math.floor((x - this.x0) / this.cellM);
    return this.cells[i] < travelledM - OWN_M;
  }

  /** Marks the ground between two short lines across travel, a to b and c to d. */
  mark(
    travelledM: number,
    ax: number,
    ay: number,
    bx: number,
    by: number,
    cx: number,
    cy: number,
    dx: number,
    dy: number,
  ): void {
    const across = Math.max(1, Math.ceil(Math.hypot(bx - ax, by - ay) / (this.cellM * 0.7)));
    const along = Math.max(
      1,
      Math.ceil(Math.max(Math.hypot(cx - ax, cy - ay), Math.hypot(dx - bx, dy - by)) / (this.cellM * 0.7)),
    );
    for (let i = 0; i < across; i++) {
      const f = (i + 0.5) / across;
      for (let k = 0; k <= along; k++) {
        const g = k / along;
        const x = (ax + (bx - ax) * f) * (1 - g) + (cx + (dx - cx) * f) * g;
        const y = (ay + (by - ay) * f) * (1 - g) + (cy + (dy - cy) * f) * g;
        const at = Math.floor((y - this.y0) / this.cellM) * this.columns + Math.floor((x - this.x0) / this.cellM);
        if (this.cells[at] > travelledM) this.cells[at] = travelledM;
      }
    }
  }
}
