/** Which seams a picture marks: the account decides, so that no picture marks what the verdict puts down to steering. */
import { HARMLESS } from '../account/index.ts';
import type { Answer, SeamDrawing } from '../answer.ts';

export type SeamState = 'gap' | 'overlap' | 'fine';

/**
 * State of each seam of `evidence.seams` in a picture: a gap or an overlap where the seam is beyond the tolerance and the account has ground
 * between its two passes that a setting causes, or that no harmless cause explains.
 */
export function seamStates(
  { report, evidence }: Pick<Answer, 'report' | 'evidence'>,
  picture: 'recorded' | 'planted',
): SeamState[] {
  const { toleranceM } = report.seams;
  const counts = report.account.filter(
    (l) => !HARMLESS.has(l.cause) && (l.picture === picture || !evidence.plantedApart),
  );
  const stateOf = (s: SeamDrawing): SeamState => {
    const m = picture === 'planted' ? s.plantedM : s.recordedM;
    if (!(Math.abs(m) > toleranceM)) return 'fine';
    const fact = m > 0 ? 'gap' : 'overlap';
    const blamed = counts.some((l) => l.fact === fact && l.passes.includes(s.passA) && l.passes.includes(s.passB));
    return blamed ? fact : 'fine';
  };
  return evidence.seams.map(stateOf);
}
