/** Numbers of the answer as text: the same as in the written reports. */
export {
  areaOr,
  clockText,
  countText,
  distanceText,
  gapNumber,
  gapOr,
  gapText,
  gapUnit,
  grouped,
  lengthOr,
  lengthText,
  percentText,
  shareText,
  signedGap,
} from '../core/report/index.ts';
