/** The browser's storage: planter files, one that is being described, and the mark of a check that is under way. Storage may be full, refused or absent. */

export interface KeptPlanter {
  fileName: string;
  name: string;
  text: string;
  /** Machines that it was found on, as their maps name them. */
  machines?: string[];
}

interface KeptPlanters {
  planters: KeptPlanter[];
  /** Why there are none, or why the last one was not kept; '' otherwise. */
  problem: string;
}

const PLANTERS = 'guessrow planters';
const DRAFT = 'guessrow draft';
const UNDER_WAY = 'guessrow under way';
const NOTHING_KEPT = 'This browser lets the page keep nothing. Save the planter file instead.';

export function keptPlanters(): KeptPlanters {
  try {
    return { planters: readKept(localStorage.getItem(PLANTERS)), problem: '' };
  } catch {
    return { planters: [], problem: NOTHING_KEPT };
  }
}

/** Valid entries; anything else in the storage is ignored. */
export function readKept(text: string | null): KeptPlanter[] {
  try {
    const json: unknown = JSON.parse(text ?? '[]');
    return Array.isArray(json) ? json.filter(isKept) : [];
  } catch {
    return [];
  }
}

function isKept(k: unknown): k is KeptPlanter {
  if (typeof k !== 'object' || k === null) return false;
  const { fileName, name, text, machines } = k as Partial<KeptPlanter>;
  const named = machines === undefined || (Array.isArray(machines) && machines.every((m) => typeof m === 'string'));
  return typeof fileName === 'string' && typeof name === 'string' && typeof text === 'string' && named;
}

/** Stores a planter in place of one of the same name and merges the machines that it was found on. */
export function keepPlanter(planter: KeptPlanter): KeptPlanters {
  const { planters } = keptPlanters();
  const old = planters.find((k) => k.name === planter.name);
  const machines = [...new Set([...(old?.machines ?? []), ...(planter.machines ?? [])])];
  const next = machines.length > 0 ? { ...planter, machines } : planter;
  return put([...planters.filter((k) => k !== old), next]);
}

export function forgetPlanter(name: string): KeptPlanters {
  return put(keptPlanters().planters.filter((k) => k.name !== name));
}

function put(all: readonly KeptPlanter[]): KeptPlanters {
  try {
    localStorage.setItem(PLANTERS, JSON.stringify(all));
    return keptPlanters();
  } catch (error) {
    const full = error instanceof DOMException && error.name === 'QuotaExceededError';
    return {
      ...keptPlanters(),
      problem: full
        ? 'The browser has no room left for this page. Forget a kept planter, or save the planter file instead.'
        : NOTHING_KEPT,
    };
  }
}

/** The planter that is being described, as it is typed. */
export function keepDraft(draft: KeptPlanter): void {
  try {
    localStorage.setItem(DRAFT, JSON.stringify([draft]));
  } catch {
    // Without room the page silently forgets it when it is closed, because the user did not ask to store it.
  }
}

export function dropDraft(): void {
  try {
    localStorage.removeItem(DRAFT);
  } catch {
    // See above.
  }
}

export function readDraft(): KeptPlanter | null {
  try {
    return readKept(localStorage.getItem(DRAFT))[0] ?? null;
  } catch {
    return null;
  }
}

interface UnderWay {
  map: string;
  planterName: string;
  planter: string;
  lock: string;
}

/** Held while this page is open, so that another page sees that the check is still running, not cut off. */
const lock = `guessrow page ${Math.random()}`;

export function noteStart(map: string, planterName: string, planter: string): void {
  try {
    void navigator.locks?.request(lock, { ifAvailable: true }, (got) => (got ? new Promise(() => {}) : undefined));
    localStorage.setItem(UNDER_WAY, JSON.stringify({ map, planterName, planter, lock } satisfies UnderWay));
  } catch {
    // Without storage nothing can be reported after the page is closed; the check itself does not need it.
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
