/**
 * Writes `dist/sbom.cdx.json`: the software bill of materials, CycloneDX 1.5, of what is delivered. `npm run sbom`.
 *
 * npm's own list is the source. It knows what is installed, not what was built in, so it is cut down to the packages inside the page,
 * the command and the library and those that are installed beside the command; each says which.
 */
import { spawnSync } from 'node:child_process';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { materials, root } from './materials.ts';

interface Property {
  name: string;
  value: string;
}
interface Component {
  'bom-ref': string;
  name: string;
  version: string;
  scope?: string;
  properties: Property[];
  licenses?: { license?: { id?: string; name?: string }; expression?: string }[];
}
interface Sbom {
  bomFormat: string;
  specVersion: string;
  metadata: { component: Component };
  components: Component[];
  dependencies: { ref: string; dependsOn: string[] }[];
}

/** The list for what is built and installed at present. */
export function sbom(): Sbom {
  const npm = spawnSync('npm', ['sbom', '--sbom-format', 'cyclonedx', '--package-lock-only'], {
    cwd: root,
    encoding: 'utf8',
    maxBuffer: 1 << 26,
    shell: process.platform === 'win32',
  });
  if (npm.status !== 0) throw new Error(`npm sbom failed: ${npm.stderr}`);
  const all: Sbom = JSON.parse(npm.stdout);
  const delivered = new Map(materials().map((m) => [`${m.name}@${m.version}`, m]));
  const components = all.components.flatMap((c) => {
    const m = delivered.get(`${c.name}@${c.version}`);
    if (!m) return [];
    const where = [...m.within.map((w) => `inside ${w}`), ...(m.installed ? ['installed'] : [])];
    return [
      {
        ...c,
        scope: m.optional ? 'optional' : 'required',
        properties: where.map((value) => ({ name: 'guessrow:delivered', value })),
        licenses: [/ /.test(m.license) ? { expression: m.license } : { license: { id: m.license } }],
      },
    ];
  });
  const self = { ...all.metadata.component, name: 'guessrow' };
  const refs = new Set([self['bom-ref'], ...components.map((c) => c['bom-ref'])]);
  const dependencies = all.dependencies
    .filter((d) => refs.has(d.ref))
    .map((d) => ({ ...d, dependsOn: d.dependsOn.filter((r) => refs.has(r)) }));
  return { ...all, metadata: { ...all.metadata, component: self }, components, dependencies };
}

if (process.argv[1]?.endsWith('sbom.ts')) {
  const out = join(root, 'dist', 'sbom.cdx.json');
  const made = sbom();
  writeFileSync(out, `${JSON.stringify(made, null, 2)}\n`);
  process.stdout.write(`${made.components.length} packages written to ${out}\n`);
}
