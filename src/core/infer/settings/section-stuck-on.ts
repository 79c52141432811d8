import type { FindingWords, SettingDefinition } from './definition.ts';

export const sectionStuckOn: SettingDefinition = {
  setting: 'section-stuck-on',
  name: 'a section that stays on',
  prior: 4,
  explanation: {
    what: 'One section of many, its override, valve, clutch or motor.',
    goesWrong: 'It is overridden by hand, or it cannot shut off.',
    mapShows: 'One section goes on recording over covered ground where the others stop.',
    lookAt: 'Drive into covered ground and watch whether it shuts off with its neighbors.',
  },
};

/** `other` is the section on the other side where nothing shows which way the passes were driven; empty where that is known. */
export const stuckOnWords = (name: string, where: string, other: string): FindingWords => ({
  says: `${name} does not shut off over covered ground while the others do (${where}).${other === '' ? '' : ` Nothing in the map shows which way the passes were driven: it may be ${other}.`}`,
  check:
    "Look at that section's switch, valve, clutch or motor and at its override on the display; then drive into covered ground and watch whether it shuts off with its neighbors.",
});
