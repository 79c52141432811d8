/** What the browser keeps for the reader: planter files, and the mark of a check that is under way. Storage may be full, refused or absent. */

export interface KeptPlanter {
  fileName: string;
  name: string;
  text: string;
}

const PLANTERS = 'guessrow planters';
const UNDER_WAY = 'guessrow under way';

/** The kept planters, or the sentence that says why there are none to be had. */
export function keptPlanters(): KeptPlanter[] | string {
  try {
    return readKept(localStorage.getItem(PLANTERS));
  } catch {
    return 'This browser lets the page keep nothing. Save the planter file instead.';
  }
}

/** Entries that can be used; whatever else lies there is passed over. */
export function readKept(text: string | null): KeptPlanter[] {
  try {
    const json: unknown = JSON.parse(text ?? '[]');
    if (!Array.isArray(json)) return [];
    return json.filter(
      (k): k is KeptPlanter =>
        typeof k === 'object' &&
        k !== null &&
        typeof k.fileName === 'string' &&
        typeof k.name === 'string' &&
        typeof k.text === 'string',
    );
  } catch {
    return [];
  }
}

/** Keeps a planter in place of one of the same name. Returns a sentence when it could not be kept, else nothing. */
export function keepPlanter(planter: KeptPlanter): string {
  const others = keptPlanters();
  if (typeof others === 'string') return others;
  return put([...others.filter((k) => k.name !== planter.name), planter]);
}

export function forgetPlanter(name: string): string {
  const all = keptPlanters();
  return typeof all === 'string' ? all : put(all.filter((k) => k.name !== name));
}

function put(all: readonly KeptPlanter[]): string {
  try {
    localStorage.setItem(PLANTERS, JSON.stringify(all));
    return '';
  } catch (error) {
    return error instanceof DOMException && error.name === 'QuotaExceededError'
      ? 'The browser has no room left for this page. Forget a kept planter, or save the planter file instead.'
      : 'This browser lets the page keep nothing. Save the planter file instead.';
  }
}

interface UnderWay {
  map: string;
  planterName: string;
  planter: string;
  lock: string;
}

/** Held while this page lives; another page of the same sheet sees by it that a check is not cut off but still runs. */
const lock = `guessrow page ${Math.random()}`;

export function noteStart(map: string, planterName: string, planter: string): void {
  try {
    void navigator.locks?.request(lock, { ifAvailable: true }, (got) => (got ? new Promise(() => {}) : undefined));
    localStorage.setItem(UNDER_WAY, JSON.stringify({ map, planterName, planter, lock } satisfies UnderWay));
  } catch {
    // Nothing is kept, and nothing can be told after the page is closed: the check itself needs none of it.
  }
}

export function noteEnd(): void {
  try {
    localStorage.removeItem(UNDER_WAY);
  } catch {
    // See above.
  }
}

/** The check that was cut off when its page was closed, once; null when there is none. */
export async function takeInterrupted(): Promise<Omit<UnderWay, 'lock'> | null> {
  try {
    const left: unknown = JSON.parse(localStorage.getItem(UNDER_WAY) ?? 'null');
    if (typeof left !== 'object' || left === null) return null;
    const { map, planterName, planter, lock: its } = left as Partial<UnderWay>;
    if (typeof map !== 'string' || typeof planter !== 'string' || typeof planterName !== 'string') return null;
    const held = (await navigator.locks?.query())?.held ?? [];
    if (held.some((l) => l.name === its)) return null;
    noteEnd();
    return { map, planterName, planter };
  } catch {
    return null;
  }
}
