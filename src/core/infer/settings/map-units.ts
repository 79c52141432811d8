import type { SettingDefinition } from './definition.ts';

export const mapUnits: SettingDefinition = {
  setting: 'map-units',
  name: "the map's units",
  prior: 3,
  explanation: {
    what: 'The unit in which the file writes its coordinates or its width column.',
    goesWrong: 'A projected export loses its projection file, or its feet are read as meters.',
    mapShows:
      'Every width is off by the ratio of foot and meter, and so is the distance between passes: the picture is right and its scale is wrong.',
    lookAt: 'Export again with the projection, or put the unit in the .prj file right.',
  },
};
