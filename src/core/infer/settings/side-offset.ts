import type { SettingDefinition } from './definition.ts';

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
