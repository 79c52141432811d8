/** Strips of ground between the points of a log, laid as polygons. */
import { metersPerDegree } from '../geometry/ellipsoid.ts';
import { median } from '../geometry/stats.ts';
import type { Note } from '../shared/messages.ts';
import { shown } from './bytes.ts';
import { stepsOf } from './point-columns.ts';
import { chainsOf, type Points } from './point-order.ts';
import { intervalOf, STILL_M, unitsOf } from './point-travel.ts';
import type { PointColumns, PointTrack } from './point-types.ts';
import { OUTER, Staging } from './staging.ts';

/** A step of twice the step at working speed (which a tenth of the steps exceed) is a break: the planter was lifted, or a position was lost. */
const BREAK_STEPS = 2;
const AT_SPEED = 0.9;
/** Headings that differ by more than this have no strip of ground between them; cosine. */
const SHARP = Math.cos((75 * Math.PI) / 180);

/** Lays the strips of chains of points, one after another. */
export class StripLayer {
  readonly laid = new Staging();
  /** Point and section of each record laid. */
  readonly rowOf: number[] = [];
  readonly sectionOf: number[] = [];
  /** Points that laid nothing: how many for each reason, and the first of them. */
  readonly skipped = new Map<string, { count: number; first: number }>();
  private readonly breakM: number;
  private readonly before: boolean;
  private readonly whyInterval: string;
  private readonly unit: Float64Array;
  private readonly whyHeading: string;

  constructor(
    private readonly points: Points,
    private readonly track: PointTrack,
    private readonly columns: PointColumns,
  ) {
    const chains = chainsOf(columns, track.x.length);
    const longest = chains.reduce((a, c) => (c.length > a.length ? c : a));
    const steps = stepsOf({ x: longestOf(track.x, longest), y: longestOf(track.y, longest) });
    const moved = steps.filter((s) => s > STILL_M).sort();
    const atSpeed = moved[Math.floor(AT_SPEED * moved.length)] ?? 5;
    // In a short log a break itself may be among the longest tenth.
    this.breakM = BREAK_STEPS * Math.min(atSpeed, 3 * (median(moved) || 5));
    const interval = intervalOf(columns, steps, longest);
    this.before = interval.before;
    this.whyInterval = interval.says;
    const turned = unitsOf(track, columns, chains, this.breakM);
    this.unit = turned.unit;
    this.whyHeading = turned.says;
  }

  lay(chain: number[]): void {
    const { before, track } = this;
    let last = -1;
    for (const i of chain) {
      const stepM = last < 0 ? Number.NaN : Math.hypot(track.x[i] - track.x[last], track.y[i] - track.y[last]);
      if (stepM < STILL_M) {
        this.leave(i, 'no travel since the point before');
        continue;
      }
      const joined = last >= 0 && this.joined(last, i, stepM);
      if (joined) this.strip(last, i, before ? i : last);
      if (before && !joined) this.alone(i, -1);
      if (!before && !joined && last >= 0) this.alone(last, 1);
      last = i;
    }
    if (!before && last >= 0) this.alone(last, 1);
  }

  private joined(a: number, b: number, stepM: number): boolean {
    const { columns, unit } = this;
    const { pass, distance } = columns;
    if (stepM > this.breakM) return false;
    if (pass !== null && pass.values[a] !== pass.values[b]) return false;
    if (unit[2 * a] * unit[2 * b] + unit[2 * a + 1] * unit[2 * b + 1] < SHARP) return false;
    const driven = distance === null ? Number.NaN : distance.meters[this.before ? b : a];
    return !(stepM > 1.5 * driven + 0.5);
  }

  /** A point at the end of a pass, whose strip extends for the distance that the point gives; `way` 1 ahead, -1 back. */
  private alone(i: number, way: 1 | -1): void {
    const { columns, points, unit } = this;
    const meters = columns.distance?.meters[i] ?? Number.NaN;
    if (!(meters > STILL_M && meters <= this.breakM)) {
      this.leave(
        i,
        way < 0 ? 'first point of a pass, with no strip before it' : 'last point of a pass, with no strip after it',
      );
      return;
    }
    const [mx, my] = metersPerDegree(points.lat[i]);
    const end = {
      lon: points.lon[i] + (way * meters * unit[2 * i]) / mx,
      lat: points.lat[i] + (way * meters * unit[2 * i + 1]) / my,
    };
    const here = { lon: points.lon[i], lat: points.lat[i] };
    this.quads(way < 0 ? end : here, i, way < 0 ? here : end, i, i);
  }

  private strip(a: number, b: number, of: number): void {
    const { lon, lat } = this.points;
    this.quads({ lon: lon[a], lat: lat[a] }, a, { lon: lon[b], lat: lat[b] }, b, of);
  }

  /** The strips of the sections that point `of` has on, from `back` to `front`, across the headings at points `a` and `b`. */
  private quads(back: Place, a: number, front: Place, b: number, of: number): void {
    const { sections, width } = this.columns;
    const meters = width.meters[of];
    if (sections.kind === 'none' || sections.kind === 'own') {
      if (!(meters > 0)) this.leave(of, 'no width: nothing was on');
      else this.quad(back, a, front, b, -meters / 2, meters / 2, of, 0);
      return;
    }
    const { edgesM } = sections;
    let any = false;
    for (let k = 0; k + 1 < edgesM.length; k++) {
      if (sections.kind === 'states' ? !sections.on(of, k) : sections.of[of] !== k || !(meters > 0)) continue;
      this.quad(back, a, front, b, edgesM[k], edgesM[k + 1], of, k);
      any = true;
    }
    if (!any) this.leave(of, 'no section was on');
  }

  private quad(
    back: Place,
    a: number,
    front: Place,
    b: number,
    left: number,
    right: number,
    of: number,
    k: number,
  ): void {
    const { laid } = this;
    this.corner(back, a, left);
    this.corner(back, a, right);
    this.corner(front, b, right);
    this.corner(front, b, left);
    laid.ring(OUTER);
    laid.record();
    this.rowOf.push(of);
    this.sectionOf.push(k);
  }

  private corner(at: Place, i: number, right: number): void {
    const [mx, my] = metersPerDegree(at.lat);
    this.laid.point(at.lon + (right * this.unit[2 * i + 1]) / mx, at.lat - (right * this.unit[2 * i]) / my);
  }

  private leave(i: number, reason: string): void {
    const e = this.skipped.get(reason);
    if (e === undefined) this.skipped.set(reason, { count: 1, first: i });
    else {
      e.count++;
      e.first = Math.min(e.first, i);
    }
  }

  /** In a log with a point for each section: skips the points without a section. */
  leaveUnnumbered(): void {
    const { sections } = this.columns;
    if (sections.kind === 'none' || sections.kind === 'states') return;
    for (let i = 0; i < sections.of.length; i++) if (sections.of[i] < 0) this.leave(i, 'no section is named');
  }

  report(file: string, notes: Note[]): void {
    const { width, sections, pass } = this.columns;
    const n = this.track.x.length;
    notes.push(
      {
        code: 'points-laid',
        sentence: `The map holds ${n} points, along which ${this.laid.records} polygons were laid as a display draws them: as wide as column "${shown(width.name)}" says (${width.unit}), ${this.whyHeading}${pass ? `, broken where column "${shown(pass.name)}" changes` : ''}; a step of more than ${this.breakM.toFixed(1)} m is a break.`,
        place: { file, key: width.name },
        todo: 'The positions are read as the middle of the frame; make sure that they are not those of the antenna.',
      },
      {
        code: 'points-interval',
        sentence: this.whyInterval,
        place: { file },
        todo: 'Nothing; ends of passes are known to one interval at best.',
      },
      {
        code: 'points-sections',
        sentence:
          sections.kind === 'none'
            ? 'No column shows which sections were on, so each strip is one polygon with the position in its middle.'
            : `Sections were laid from ${sections.says}, counted from the left.`,
        place: { file },
        todo: 'Name another column with "--columns section=NAME" if that is wrong.',
      },
    );
  }
}

interface Place {
  lon: number;
  lat: number;
}

const longestOf = (v: Float64Array, chain: number[]): Float64Array => Float64Array.from(chain, (i) => v[i]);
