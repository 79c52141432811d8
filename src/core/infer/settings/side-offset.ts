import type { FindingWords, SettingDefinition } from './definition.ts';

export const sideOffset: SettingDefinition = {
  setting: 'side-offset',
  name: 'the side offset',
  prior: 6,
  explanation: {
    what: 'How far the middle of the frame lies to the left or right of the point that the display steers by.',
    goesWrong:
      'It is measured to the wrong side or to the wrong point, or the working center of a wide planting on an even frame is forgotten.',
    mapShows:
      'Seams alternate, one wide and one narrow, when neighbors are driven opposite ways; each deviates by twice the error. Passes driven all one way show nothing.',
    lookAt: 'Measure it on the machine. Where all passes run one way, even seams do not prove that it is right.',
  },
};

/** `alternating`: by how much seams open and close in turn; `side` is left or right of travel, null where nothing shows which way passes were driven. */
export const sideOffsetWords = (offset: string, alternating: string, side: 'left' | 'right' | null): FindingWords => ({
  says: `Every pass is recorded ${offset} ${side ? `to the ${side}` : 'to one side'} of its travel, so seams open and close by ${alternating} in turn${side ? '' : '; nothing in the map shows which way the passes were driven, so the side is not known'}.`,
  check: `Look at the side offset of the planter (left/right distance from the antenna or hitch to the frame's center): it is off by ${offset}. Measure it on the machine, then drive three passes back and forth and measure two neighboring guess rows: they must be equal.`,
});
