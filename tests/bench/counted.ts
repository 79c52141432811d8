import { readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';

/** What every process of a command took. */
export interface Counted {
  /** Processor seconds of all of them, and of the main one. */
  allS: number;
  mainS: number;
  /** The most memory that any of them held, MB. */
  peakMb: number;
}

/** Put before every process: at its end each writes what it took. */
const COUNTING = `
import { appendFileSync, readFileSync } from 'node:fs';
process.on('exit', () => {
  const { userCPUTime, systemCPUTime } = process.resourceUsage();
  // Not maxRSS: that keeps what the parent held when it started this one.
  const peak = Number(/VmHWM:\\s*(\\d+)/.exec(readFileSync('/proc/self/status', 'utf8'))[1]);
  const took = { main: process.send === undefined, s: (userCPUTime + systemCPUTime) / 1e6, mb: peak / 1024 };
  appendFileSync(process.env.COUNTED, JSON.stringify(took) + '\\n');
});`;

/** The environment to run a command in, whose processes are then counted, and what to ask for the count after each run. `dir` is a folder for its files. */
export function counting(dir: string): { env: NodeJS.ProcessEnv; counted(): Counted } {
  const counts = join(dir, 'counted.jsonl');
  const script = join(dir, 'counted.mjs');
  writeFileSync(script, COUNTING);
  return {
    env: { ...process.env, COUNTED: counts, NODE_OPTIONS: `--import ${script}` },
    counted() {
      const each: { main: boolean; s: number; mb: number }[] = readFileSync(counts, 'utf8')
        .trimEnd()
        .split('\n')
        .map((l) => JSON.parse(l));
      rmSync(counts);
      const sum = (of: typeof each): number => of.reduce((t, p) => t + p.s, 0);
      return {
        allS: sum(each),
        mainS: sum(each.filter((p) => p.main)),
        peakMb: Math.max(...each.map((p) => p.mb)),
      };
    },
  };
}
