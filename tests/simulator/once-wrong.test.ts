/** Maps that were once answered wrongly, each with what it taught. A simulated map is the same every time: its seed is all that is kept. */
import { describe, expect, test } from 'vitest';
import type { Setting } from '../../src/core/index.ts';
import { simulate } from './index.ts';
import { answerTo, type Wish } from './outcome.ts';

interface Case extends Wish {
  seed: number;
  taught: string;
  first: Setting | null;
  also?: Setting[];
}

const CASES: Case[] = [
  {
    seed: 4000096,
    taught: 'section control off shows at the ends of passes alone where no section lies wholly on covered ground',
    first: 'section-control-off',
  },
  {
    seed: 4100086,
    taught: 'a section that stays on shows where the others have shut off at slanted ends',
    first: 'section-stuck-on',
  },
  {
    seed: 4000048,
    taught: 'the first pass of a day may be of the machine that did not drive the second one',
    first: 'frame-rows',
  },
  {
    seed: 600054,
    taught:
      'two machines that work at one time for seconds are told apart by their widths; one date is one day in either order',
    first: 'frame-rows',
  },
  {
    seed: 4100239,
    taught: 'one bar of the pass before it does not put a pass at two places at one time',
    first: 'row-spacing',
  },
  {
    seed: 600022,
    taught: 'a lap that ends where it began was not at work while the passes inside it were driven',
    first: null,
  },
  {
    seed: 4000046,
    taught:
      'a planter speeds up from its first bar on, and sections of one slanted end switch at the same part of an interval',
    first: 'frame-rows',
  },
  {
    seed: 4000011,
    taught: 'the frame entered as its wide rows only records what the wide planting does',
    first: 'planted-rows',
    also: ['frame-as-wide'],
  },
  {
    seed: 4100376,
    taught: 'seams alternate where a display that believes in idle sections keeps the center of the frame on the line',
    first: 'section-idle',
    also: ['declared-layout'],
  },
  {
    seed: 6000011,
    taught: 'a section off at one end leaves twice its width open between every other two passes',
    first: 'section-stuck-off',
  },
  {
    seed: 6000208,
    taught: 'a display that believes in too wide a planter may never record its whole width',
    first: 'row-spacing',
  },
  {
    seed: 6000273,
    taught: 'a mirrored order shows at the edge of the field, within a log interval or two',
    first: 'section-order',
  },
  {
    seed: 6000263,
    taught: 'a bar that is short at every end shows a slow planter and not a cut record',
    first: 'inline-offset',
  },
  {
    seed: 6000177,
    taught: 'strips that reach onto covered ground at both ends show that section control was off',
    first: 'section-control-off',
  },
  {
    seed: 4200254,
    taught: 'a section that switches in a bar of its own is an observation of its own',
    first: 'section-stuck-on',
  },
  {
    seed: 4200121,
    taught: 'the log interval of strips is unknown',
    first: null,
  },
  {
    seed: 4300299,
    taught: 'sections a few lattice steps wide follow each other along travel, though rounding moves their sides',
    first: null,
  },
  {
    seed: 4300355,
    taught: 'a bar that touches no other runs as the one before it in the log does',
    first: 'section-stuck-on',
    also: ['inline-offset'],
  },
  {
    seed: 4500009,
    taught: 'whole bars that touch no other run from record to record, as the file does, around corners too',
    // Its offset is as likely as not: log intervals of 3 to 6 m, and starts and stops that lie apart.
    first: null,
  },
  {
    seed: 4500061,
    taught: 'an end may lie beyond the narrow headland that it crossed',
    first: 'inline-offset',
  },
  {
    seed: 4500266,
    taught: 'a far move may be none: the first pass of another machine as wide as the first',
    first: 'section-rows',
  },
  {
    seed: 7000014,
    taught: 'a few bars by themselves are of the machine that worked beside them, and show no move',
    first: 'frame-rows',
  },
  {
    seed: 7000018,
    taught: 'nobody who switches by hand is late by the same distance at every end',
    first: 'inline-offset',
    also: ['switch-delay'],
  },
  {
    seed: 7000044,
    taught: 'strips whose travel is known show where sections could have been off',
    first: 'section-control-off',
  },
  {
    seed: 7000209,
    taught: 'a column of widths is known on a coarse lattice too',
    first: 'map-units',
  },
  {
    seed: 7000357,
    taught: 'one belief in too wide a planter, shut at the one end and then at the other, is one setting and not two',
    first: 'frame-rows',
  },
  {
    seed: 7000431,
    taught: 'after a change, what was on may be part of the new layout',
    first: 'changed-midway',
  },
  {
    seed: 7000497,
    taught: 'the bar of a pass further aside is no part of the line that steps sideways',
    first: 'sections-merged',
    also: ['sections-merged'],
  },
  {
    seed: 7100016,
    kind: 'strips of sections',
    taught: 'two sections that go on together are no single one that stays on',
    first: null,
  },
  {
    seed: 7100026,
    kind: 'strips of sections',
    taught: 'two passes that chance laid together are no frame of twice the width',
    first: 'map-units',
  },
  {
    seed: 4700233,
    taught: 'a clock of whole seconds shows no speed over a record that was cut at a switch',
    first: null,
  },
  {
    seed: 7400034,
    taught: 'a short record among short ones is no slow planter',
    first: null,
  },
  {
    seed: 4700215,
    taught: 'what lies behind a pass with its outer section off is no neighbor',
    first: 'frame-rows',
  },
  {
    seed: 4700214,
    taught: 'what was planted again hides the pass behind it from one side only',
    first: 'frame-rows',
  },
  {
    seed: 4500018,
    taught: 'one edge of fifteen that moved is likelier than fifteen that moved so that all but one fit',
    first: 'section-rows',
  },
  {
    seed: 4500105,
    taught: 'strips with opposite headings are of two passes, whatever corners they share',
    first: null,
  },
  {
    seed: 4600211,
    taught: 'two passes side by side with sections off, and nothing open beside them, have another layout',
    first: 'changed-midway',
    also: ['changed-midway'],
  },
  {
    seed: 7400301,
    taught: 'seams of passes that ran the same way lie between those that alternate',
    first: 'side-offset',
  },
  {
    seed: 4600086,
    taught: 'seams with passes of another layout show at which end a section is off',
    first: 'section-stuck-off',
  },
  {
    seed: 7400058,
    taught: 'sections off to one end of the planter in a single pass fill the rest of the field',
    first: 'frame-rows',
  },
  {
    seed: 4600289,
    taught: 'a section at the end of the planter that is off in two passes over wedges is switched by control',
    first: null,
  },
  {
    seed: 4700210,
    taught: 'a heading of strips may be that of their ends',
    first: 'section-stuck-on',
  },
  {
    seed: 7400078,
    taught: 'a section that never records leaves its strip open',
    first: null,
  },
  {
    seed: 4900127,
    taught: 'strips of a short field may have four corners once the points along them are left out',
    first: 'row-spacing',
  },
  {
    seed: 5000195,
    taught: 'a planter slows down within a second or two of its stop',
    first: null,
  },
  {
    seed: 5000202,
    taught: 'starts that lie in two places are of no offset',
    first: null,
  },
  {
    seed: 5000068,
    taught: 'a bar of a wide planter is no strip of a short field',
    first: null,
  },
  {
    seed: 4900175,
    taught: 'a strip wider than half of the frame is no gap',
    first: 'section-stuck-off',
    also: ['section-across-drives', 'declared-layout'],
  },
  {
    seed: 4800223,
    taught: 'a layout that is unlikely explains no side offset',
    first: 'side-offset',
  },
  {
    seed: 4800146,
    taught: 'a pass of a later day over an earlier one has no seam with it',
    first: 'frame-rows',
  },
  {
    seed: 5400013,
    taught: 'what is beyond the corner of a lap does not show how a piece of it runs',
    first: null,
  },
  {
    seed: 5400044,
    taught: 'without travel, a pass with sections off may be turned the wrong way',
    first: 'pass-spacing',
    also: ['declared-layout'],
  },
  {
    seed: 5400156,
    taught: 'a section for each row unit leaves strips, which whole bars do not show',
    first: 'planted-rows',
  },
  {
    seed: 7600014,
    settings: [],
    taught: 'sections off are those of the layout as believed, not as measured',
    first: null,
  },
  {
    seed: 7600091,
    settings: [],
    taught: 'beside the sections that are off, a last pass lies where the rest of the field ends',
    first: null,
  },
  {
    seed: 7500077,
    settings: ['inline-offset'],
    taught: 'parts of one pass lie on one line, however many sections are on',
    first: 'switch-delay',
    also: ['inline-offset'],
  },
  {
    seed: 7500007,
    settings: ['inline-offset'],
    taught: 'strips do not show their log interval: an early start within a long one is doubted and not named',
    first: null,
  },
  {
    seed: 5500059,
    taught: 'passes of strips about a waterway are as wide as the others',
    first: null,
  },
  {
    seed: 5500082,
    taught: 'an end beyond the reach of any offset is of something else',
    first: 'row-spacing',
    also: ['frame-rows'],
  },
  {
    seed: 5500326,
    taught: 'an offset or a delay moves starts and stops',
    first: 'map-repeated',
  },
  {
    seed: 5600073,
    taught: 'on a coarse lattice a width is one of two, and both count',
    first: null,
  },
  {
    seed: 5700124,
    taught: 'strips that never touch are passes, however narrow',
    first: 'frame-rows',
  },
  {
    seed: 5700144,
    taught: 'back to the layout of the planter is a change; a last pass with sections off is none',
    first: 'frame-rows',
  },
  {
    seed: 5700185,
    taught: 'bars cut from one record are one heading',
    first: 'section-control-off',
  },
  {
    seed: 5900337,
    taught: 'of two sections one may stay on',
    first: 'section-stuck-on',
  },
  {
    seed: 5900059,
    taught: 'strips of sections that reach beyond the others at every end show one that stays on',
    first: 'section-stuck-on',
  },
  {
    seed: 5900120,
    taught: 'a hand has habits, and does not look ahead',
    first: 'inline-offset',
    also: ['switch-delay'],
  },
  {
    seed: 5700270,
    taught: 'a lap goes round a corner though its first bar holds one section of many',
    first: null,
  },
  {
    seed: 7500072,
    settings: ['inline-offset'],
    taught: 'an outer section at the corner of a lap meets the side of the lap before',
    first: 'inline-offset',
    also: ['switch-delay'],
  },
  {
    seed: 5900330,
    taught: 'seams of strips alternate from pass to pass where nothing shows the direction of travel',
    first: 'side-offset',
  },
  {
    seed: 5700258,
    taught: 'passes that lie apart by what was off did not shut it for lying too close',
    first: 'section-stuck-off',
  },
  {
    seed: 5800088,
    taught: 'coordinates rounded to six digits turn the ends of narrow records, and a hole in the pass is still one',
    first: 'section-stuck-off',
  },
  {
    seed: 5700298,
    taught: 'sections of three runs stand in turn in the file, and a section that a hole cuts off is no usual bar',
    first: 'section-across-drives',
    also: ['declared-layout'],
  },
  {
    seed: 6700848,
    taught: 'what lies on ground of other lines is shut, and no layout',
    first: null,
  },
  {
    seed: 6700796,
    taught: 'without one of its sections a pass may look better turned the other way',
    first: 'section-stuck-off',
  },
  {
    seed: 6700230,
    taught: 'a section goes on only where it reaches over covered ground',
    first: null,
  },
  {
    seed: 6700149,
    taught: 'the strip that a section across two drives leaves open turns the section beside it on',
    first: 'section-stuck-off',
    also: ['section-across-drives'],
  },
  {
    seed: 6700032,
    taught: 'a section that stays on goes beyond the others at most ends, not at three corners of laps',
    first: null,
  },
  {
    seed: 6700574,
    taught: 'passes that end beside a lap may have covered more than their sampled records show',
    first: null,
  },
  {
    seed: 9200072,
    settings: ['section-stuck-off'],
    taught: 'a section that never recorded leaves strips wider than what the others record',
    first: 'section-stuck-off',
  },
  {
    seed: 9100278,
    taught: 'how far passes lie apart is known to its error only',
    first: 'section-stuck-off',
  },
  {
    seed: 9100377,
    taught: 'a single section that stops at a waterway is less of an end than all of them at a headland',
    first: 'inline-offset',
    also: ['switch-delay'],
  },
  {
    seed: 9100256,
    taught: 'no hand stops eleven times within a hand of one line',
    first: 'inline-offset',
  },
  {
    seed: 6700010,
    taught: 'whole bars, and bars without the section in their middle, are no sections',
    first: null,
  },
  {
    seed: 8100496,
    settings: [],
    taught: 'a stretch of a lap that looks two hands wider is no change',
    first: null,
  },
  {
    seed: 9100099,
    taught: 'a map drawn too small has passes as short as log intervals',
    first: 'map-units',
  },
  {
    seed: 6900306,
    taught: 'strips of sections no longer than a log interval may be are of one pass all the same',
    first: 'map-units',
  },
  {
    seed: 9400463,
    taught: 'strips step aside in mid-pass as bars do',
    first: 'changed-midway',
  },
  {
    seed: 7900562,
    taught:
      'an offset along travel starts passes on covered ground and stops them short of it: section control spares nothing there',
    first: 'switch-delay',
    also: ['inline-offset'],
  },
  {
    seed: 9400412,
    taught: 'look-ahead adds to starts what it takes from stops: what both have in common is their mean',
    first: 'section-control-off',
  },
  {
    seed: 9400092,
    taught: 'slivers at the slanted edge of a waterway, chained the other way around, are no other layout',
    first: null,
  },
];

describe('maps that were once answered wrongly', () => {
  test.each(CASES)('$seed: $taught', async ({ seed, taught: _, first, also = [], ...wish }) => {
    const { diagnoses } = (await answerTo(simulate(seed, wish))).report;
    expect(diagnoses.map((d) => d.setting)).toEqual(first === null ? [] : [first, ...also]);
    expect(diagnoses.map((d) => `${d.says} ${d.check}`).join(' ')).not.toMatch(/undefined|NaN/);
  });
});

test('a column of widths of sections names no machines', async () => {
  // 16 rows in ten sections of one to three rows: three widths, each the same along its section, at work at one time.
  const map = simulate(4000160);
  expect(map.map).toContain('"width_cm"');
  const { machines } = (await answerTo(map)).report;
  expect(machines.map((m) => m.name)).toEqual(['field 1', 'field 2']);
});
