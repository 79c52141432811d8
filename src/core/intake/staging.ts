import type { Skipped } from './types.ts';

/** Points per block: 1 MB, so that growing never copies what is already there. */
const BLOCK_BITS = 16;
export const BLOCK = 1 << BLOCK_BITS;

/** The kind of a ring when it is read: the outer ring of a part, a hole of the part before it, or (in a shapefile) neither yet. */
export const OUTER = 0;
export const HOLE = 1;
export const UNKNOWN = 2;

/**
 * Records as they come from the file: points in the file's own coordinates (degrees or meters), rings still closed by a repeated point,
 * and for every record whether it is used, or why not. Records count from 0 here.
 */
export class Staging {
  /** Blocks of x and y in turn. */
  readonly blocks: Float64Array[] = [new Float64Array(2 * BLOCK)];
  points = 0;
  rings = 0;
  records = 0;
  /** First point of each ring, one more entry than rings. */
  ringStart = new Uint32Array(1024);
  ringRole = new Uint8Array(1024);
  /** First ring of each record, one more entry than records. */
  recordStart = new Uint32Array(1024);
  /** 0 for a used record, else index + 1 into `reasons`. */
  status = new Uint8Array(1024);
  readonly reasons: string[] = [];
  /** The records are points, one each, as `takePoints` made them. */
  isPoints = false;
  /** Points of records that were skipped for being points: the record and where it lies. */
  private lone = { count: 0, record: new Uint32Array(0), xy: new Float64Array(0) };
  private block = this.blocks[0];
  private at = 0;

  point(x: number, y: number): void {
    if (this.at === 2 * BLOCK) this.nextBlock();
    this.block[this.at] = x;
    this.block[this.at + 1] = y;
    this.at += 2;
    this.points++;
  }

  private nextBlock(): void {
    const i = this.points >>> BLOCK_BITS;
    if (i === this.blocks.length) this.blocks.push(new Float64Array(2 * BLOCK));
    this.block = this.blocks[i];
    this.at = 0;
  }

  /** Ends the ring that the points since the last ring belong to. */
  ring(role: number): void {
    if (this.rings + 2 > this.ringStart.length) {
      this.ringStart = doubled(this.ringStart, new Uint32Array(2 * this.ringStart.length));
      this.ringRole = doubled(this.ringRole, new Uint8Array(2 * this.ringRole.length));
    }
    this.ringRole[this.rings++] = role;
    this.ringStart[this.rings] = this.points;
  }

  /** Ends the record that the rings since the last record belong to. `reason` skips it. */
  record(reason = ''): void {
    if (this.records + 2 > this.recordStart.length) {
      this.recordStart = doubled(this.recordStart, new Uint32Array(2 * this.recordStart.length));
      this.status = doubled(this.status, new Uint8Array(2 * this.status.length));
    }
    if (reason) this.rollback();
    this.status[this.records] = 0;
    this.recordStart[++this.records] = this.rings;
    if (reason) this.skip(this.records - 1, reason);
  }

  /** Ends a record that is one point: skipped for `reason`, unless `takePoints` finds that the whole map holds points. */
  pointRecord(x: number, y: number, reason: string): void {
    const { count } = this.lone;
    if (count === this.lone.record.length) {
      this.lone.record = doubled(this.lone.record, new Uint32Array(Math.max(1024, 2 * count)));
      this.lone.xy = doubled(this.lone.xy, new Float64Array(Math.max(2048, 4 * count)));
    }
    this.lone.record[count] = this.records;
    this.lone.xy[2 * count] = x;
    this.lone.xy[2 * count + 1] = y;
    this.lone.count++;
    this.record(reason);
  }

  /** Where no record is used and some are points, these become the records: one point each, in a ring of its own. True when it is so. */
  takePoints(): boolean {
    const { count, record, xy } = this.lone;
    if (count === 0 || this.isPoints) return this.isPoints;
    for (let r = 0; r < this.records; r++) if (this.status[r] === 0) return false;
    const why = Array.from(this.status.subarray(0, this.records), (s) => this.reasons[s - 1]);
    this.records = 0;
    this.cut(0, 0);
    for (let i = 0, r = 0; r < why.length; r++) {
      if (i < count && record[i] === r) {
        this.point(xy[2 * i], xy[2 * i + 1]);
        this.ring(OUTER);
        this.record();
        i++;
      } else this.record(why[r]);
    }
    this.lone = { count: 0, record: new Uint32Array(0), xy: new Float64Array(0) };
    this.isPoints = true;
    return true;
  }

  /** Forgets the points and rings since the last record. */
  rollback(): void {
    const rings = this.recordStart[this.records];
    this.cut(rings, this.ringStart[rings]);
  }

  /** What was staged, to be joined to what another reader staged; null where that cannot be done. */
  pack(): PackedStaging | null {
    if (this.lone.count > 0) return null;
    return {
      blocks: this.blocks,
      points: this.points,
      ringStart: this.ringStart.slice(0, this.rings + 1),
      ringRole: this.ringRole.slice(0, this.rings),
      recordStart: this.recordStart.slice(0, this.records + 1),
      status: this.status.slice(0, this.records),
      reasons: this.reasons,
    };
  }

  /** Goes on with the records that another reader staged. */
  append(p: PackedStaging): void {
    const { points, rings, records } = this;
    for (let from = 0; from < p.points; ) {
      if (this.at === 2 * BLOCK) this.nextBlock();
      const start = from & (BLOCK - 1);
      const n = Math.min(p.points - from, BLOCK - start, BLOCK - this.at / 2);
      this.block.set(p.blocks[from >>> BLOCK_BITS].subarray(2 * start, 2 * (start + n)), this.at);
      this.at += 2 * n;
      this.points += n;
      from += n;
    }
    this.rings += p.ringRole.length;
    this.records += p.status.length;
    this.ringStart = shifted(this.ringStart, p.ringStart, rings, points);
    this.ringRole = joined(this.ringRole, p.ringRole, rings);
    this.recordStart = shifted(this.recordStart, p.recordStart, records, rings);
    this.status = joined(this.status, p.status, records);
    for (let r = 0; r < p.status.length; r++) if (p.status[r] !== 0) this.skip(records + r, p.reasons[p.status[r] - 1]);
  }

  /** Goes back to an earlier count of rings and points. */
  cut(rings: number, points: number): void {
    this.rings = rings;
    this.points = points;
    const i = this.points >>> BLOCK_BITS;
    this.block = this.blocks[Math.min(i, this.blocks.length - 1)];
    this.at = i < this.blocks.length ? 2 * (this.points & (BLOCK - 1)) : 2 * BLOCK;
  }

  skip(record: number, reason: string): void {
    let i = this.reasons.indexOf(reason);
    if (i < 0) i = this.reasons.push(reason) - 1;
    this.status[record] = i + 1;
  }

  /** The block that holds all points from..to, nearly always there is one; null where they lie in two. Point p is at 2 · (p & (BLOCK - 1)) of it. */
  blockOf(from: number, to: number): Float64Array | null {
    return from >>> BLOCK_BITS === (to - 1) >>> BLOCK_BITS ? this.blocks[from >>> BLOCK_BITS] : null;
  }

  x(point: number): number {
    return this.blocks[point >>> BLOCK_BITS][2 * (point & (BLOCK - 1))];
  }

  y(point: number): number {
    return this.blocks[point >>> BLOCK_BITS][2 * (point & (BLOCK - 1)) + 1];
  }

  put(point: number, x: number, y: number): void {
    const block = this.blocks[point >>> BLOCK_BITS];
    const at = 2 * (point & (BLOCK - 1));
    block[at] = x;
    block[at + 1] = y;
  }

  /** Skipped records by reason, in order of the first one. Record numbers count from 1. */
  summary(): Skipped[] {
    const found = this.reasons.map((reason) => ({ reason, count: 0, firstRecord: 0 }));
    for (let r = 0; r < this.records; r++) {
      if (this.status[r] === 0) continue;
      const s = found[this.status[r] - 1];
      if (s.count++ === 0) s.firstRecord = r + 1;
    }
    return found.filter((s) => s.count > 0).sort((a, b) => a.firstRecord - b.firstRecord);
  }
}

/** What a reader staged, as plain data. */
export interface PackedStaging {
  blocks: Float64Array[];
  points: number;
  ringStart: Uint32Array;
  ringRole: Uint8Array;
  recordStart: Uint32Array;
  status: Uint8Array;
  reasons: readonly string[];
}

/** `more` behind the first `count` entries. */
function joined(a: Uint8Array, more: Uint8Array, count: number): Uint8Array<ArrayBuffer> {
  const out = new Uint8Array(count + more.length + 1);
  out.set(a.subarray(0, count));
  out.set(more, count);
  return out;
}

/** The starts in `more`, counted from 0, behind the first `count` of others, which end at `by`. */
function shifted(a: Uint32Array, more: Uint32Array, count: number, by: number): Uint32Array<ArrayBuffer> {
  const out = new Uint32Array(count + more.length + 1);
  out.set(a.subarray(0, count));
  for (let i = 0; i < more.length; i++) out[count + i] = more[i] + by;
  return out;
}

function doubled<T extends Uint32Array | Uint8Array | Float64Array>(from: T, to: T): T {
  to.set(from);
  return to;
}
