import type { SettingDefinition } from './definition.ts';

export const mapRepeated: SettingDefinition = {
  setting: 'map-repeated',
  name: 'records that appear twice in the map',
  prior: 3,
  explanation: {
    what: 'The exported file, not the display.',
    goesWrong: 'Two exports of one field are joined, or a file is loaded and saved on top of itself.',
    mapShows:
      'Records repeat others to the last digit or to within its rounding. The acre count is too high by as much; seams, widths and sections look sound.',
    lookAt: 'Export the field once more, alone. Nothing on the display needs a change.',
  },
};
