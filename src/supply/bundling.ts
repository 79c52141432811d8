/** How packages go into what is built: what stays replaceable, and a list of what went in. For the configurations of Vite. */
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Plugin } from 'vite';

/**
 * The one package under the LGPL stays a file of its own in everything that is built, with its names kept, so that another version
 * can be put in its place without building anything else (LGPL 3, section 4d).
 */
export const lgplApart = {
  minifyInternalExports: false,
  codeSplitting: { groups: [{ name: 'geojson-validation', test: /node_modules[\\/]geojson-validation[\\/]/ }] },
};

/**
 * Writes `packages.json` beside what is built: "name version" of every package with code in it, sorted. The list of materials and the
 * third-party notices are compared with it. `worker` goes to the workers' own builds, `main` to the build that they belong to.
 */
export function packagesNoted(): { main: Plugin; worker: Plugin } {
  const found = new Set<string>();
  const collect: Plugin['generateBundle'] = (_, bundle) => {
    for (const part of Object.values(bundle)) {
      if (part.type !== 'chunk') continue;
      for (const id of part.moduleIds) {
        const inside = part.modules[id];
        // Styles leave no code behind; what was imported and then shaken off leaves none either, but is not delivered.
        if (inside && inside.renderedLength === 0 && !id.endsWith('.css')) continue;
        const name = packageOf(id);
        if (name) found.add(name);
      }
    }
  };
  return {
    worker: { name: 'packages-noted-worker', generateBundle: collect },
    main: {
      name: 'packages-noted',
      generateBundle(options, bundle, isWrite) {
        (collect as (...args: unknown[]) => void)(options, bundle, isWrite);
        const source = `${JSON.stringify([...found].sort(), null, 1)}\n`;
        this.emitFile({ type: 'asset', fileName: 'packages.json', source });
      },
    },
  };
}

/** "name version" of the package that a module belongs to; null for our own. */
function packageOf(id: string): string | null {
  const path = id.replace(/^\0/, '').replace(/\?.*$/, '');
  const found = /^(.*node_modules[\\/])((?:@[^\\/]+[\\/])?[^\\/]+)[\\/]/.exec(path);
  if (!found) return null;
  const about = JSON.parse(readFileSync(join(found[1], found[2], 'package.json'), 'utf8'));
  return `${about.name} ${about.version}`;
}
