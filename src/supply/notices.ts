/**
 * Writes `public/third-party-notices.txt`: every package inside what is built, with its license text. Packages that are installed
 * beside the command bring theirs themselves. `npm run notices` after a change of packages; a test holds the file against the build.
 */
import { readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { type Material, materials, root } from './materials.ts';

const RULE = '='.repeat(100);
const HEAD = `Third-party notices of Guessrow

Guessrow itself is under the MIT license (see LICENSE). The page, the command and the library carry code of the packages below, or
of packages that those were built from. Each group names its packages and is followed by their license text. What the command
needs and does not carry is installed beside it and brings its license along.

geojson-validation is under the GNU Lesser General Public License, version 3. It is used unchanged, and stands as a file of its own,
with its names kept, in each of the three: dist/cli/geojson-validation.js, dist/lib/geojson-validation.js and, made smaller,
dist/web/assets/worker-geojson-validation-*.js. To use another version, put it in place of that file, with the same export; or, in
the sources, into node_modules/geojson-validation, and run "npm run build". Its license text stands with it below; the GNU General
Public License that it refers to stands at the end.
`;

/** The whole file. */
export function noticesText(): string {
  const groups = new Map<string, Material[]>();
  for (const m of materials().filter((x) => x.within.length > 0)) {
    const text = licenseText(m);
    groups.set(text, [...(groups.get(text) ?? []), m]);
  }
  const parts = [...groups].map(
    ([text, list]) => `${list.map((m) => `${m.name} ${m.version} (${m.license})`).join('\n')}\n\n${text}\n`,
  );
  const gpl = readFileSync(join(root, 'src/supply/texts/gpl-3.0.txt'), 'utf8').trimEnd();
  parts.push(`GNU General Public License, version 3 (referred to by the license of geojson-validation)\n\n${gpl}\n`);
  return `${HEAD}${parts.map((p) => `\n${RULE}\n${p}`).join('')}`;
}

/** License texts of packages that were published without theirs, by "name version". */
const TEXTS: Readonly<Record<string, string>> = { '@mapbox/jsonlint-lines-primitives 2.0.2': 'jsonlint.txt' };

/** The package's own license and notice files; without any, the part of its read-me that holds the license. */
function licenseText(m: Material): string {
  const ours = TEXTS[`${m.name} ${m.version}`];
  if (ours !== undefined) return readFileSync(join(root, 'src/supply/texts', ours), 'utf8').trim();
  const folder = join(root, m.path);
  const read = (name: string): string => readFileSync(join(folder, name), 'utf8').replace(/\r\n?/g, '\n');
  const files = readdirSync(folder).filter((f) => /^(licen[cs]e|copying|notice)(\.(md|txt))?$/i.test(f));
  if (files.length > 0)
    return files
      .sort()
      .map((f) => read(f).trim())
      .join('\n\n');
  const inside = /^#+ *licen[cs]e.*\n([\s\S]*?)(?=^#|$(?![\s\S]))/im.exec(read('README.md'));
  if (!inside || inside[1].trim().length < 200) throw new Error(`${m.name} ${m.version} holds no license text.`);
  return inside[1].trim();
}

if (process.argv[1]?.endsWith('notices.ts')) writeFileSync(join(root, 'public/third-party-notices.txt'), noticesText());
