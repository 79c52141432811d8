/** The sample fields that are served beside the page. */
export interface Sample {
  id: string;
  title: string;
  about: string;
  /** File names relative to `sample-data/`. */
  map: string[];
  planter: string;
  planting: string;
}

const BASE = 'sample-data/';

/** The list of samples; empty where none are served (a page opened without its program). */
export async function listSamples(): Promise<Sample[]> {
  try {
    const response = await fetch(new URL(`${BASE}index.json`, document.baseURI));
    if (!response.ok) return [];
    return readList(await response.json());
  } catch {
    return [];
  }
}

/** Keeps the entries that can be opened; a list for a newer page must not break this one. */
export function readList(json: unknown): Sample[] {
  const list = Array.isArray(json) ? json : isRecord(json) && Array.isArray(json.samples) ? json.samples : [];
  return list.filter(isRecord).flatMap((s) => {
    const map = Array.isArray(s.map) ? s.map.map(String) : s.map === undefined ? [] : [String(s.map)];
    const planter = s.planter;
    if (typeof s.id !== 'string' || typeof planter !== 'string' || map.length === 0) return [];
    return [
      {
        id: s.id,
        title: String(s.title ?? s.id),
        about: String(s.about ?? s.says ?? s.description ?? ''),
        map,
        planter,
        planting: String(s.planting ?? ''),
      },
    ];
  });
}

/** Ids of the samples that cannot be opened now: the page cannot reach its server, and their files were never stored. Empty where it can. */
export async function outOfReach(samples: readonly Sample[]): Promise<Set<string>> {
  if (samples.length === 0 || !('caches' in globalThis) || (await serverAnswers())) return new Set();
  const stored = async (path: string): Promise<boolean> =>
    (await caches.match(new URL(BASE + path, document.baseURI)).catch(() => undefined)) !== undefined;
  const missing = await Promise.all(
    samples.map(async (s) => !(await Promise.all([s.planter, ...s.map].map(stored))).every((here) => here)),
  );
  return new Set(samples.filter((_, i) => missing[i]).map((s) => s.id));
}

/** Only reading passes the store of the page: a question for the head of a file always goes to the server. */
async function serverAnswers(): Promise<boolean> {
  try {
    await fetch(new URL(`${BASE}index.json`, document.baseURI), { method: 'HEAD', cache: 'no-store' });
    return true;
  } catch {
    return false;
  }
}

/** One file of the samples as if the user had dropped it. */
export async function sampleFile(path: string): Promise<File> {
  const response = await fetch(new URL(BASE + path, document.baseURI));
  if (!response.ok) throw new Error(`${path} was not found (${response.status})`);
  return new File([await response.blob()], path.split('/').pop() ?? path);
}

function isRecord(v: unknown): v is Record<string, unknown> {
  return typeof v === 'object' && v !== null && !Array.isArray(v);
}
