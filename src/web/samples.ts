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

/** One file of the samples as if the user had dropped it. */
export async function sampleFile(path: string): Promise<File> {
  const response = await fetch(new URL(BASE + path, document.baseURI));
  if (!response.ok) throw new Error(`${path} was not found (${response.status})`);
  return new File([await response.blob()], path.split('/').pop() ?? path);
}

function isRecord(v: unknown): v is Record<string, unknown> {
  return typeof v === 'object' && v !== null && !Array.isArray(v);
}
