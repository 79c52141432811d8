import { clean } from '../core/report/index.ts';
import { isOutOfMemory, line, nearest, outOfMemory, UserError } from '../core/shared/messages.ts';
import { VERSION } from '../version.ts';
import { AUDIT_OPTIONS, runAudit } from './audit.ts';
import { CHECK_OPTIONS, runCheck } from './check.ts';
import { COMPARE_OPTIONS, runCompare } from './compare.ts';
import { EXPLAIN_OPTIONS, runExplain } from './explain.ts';
import type { Io } from './io.ts';
import { LAYOUT_OPTIONS, runLayout } from './layout.ts';
import { optionHelp, type Parsed, parseOptions, type Spec } from './options.ts';
import { REBUILD_OPTIONS, runRebuild } from './rebuild.ts';
import { runServe, SERVE_OPTIONS } from './serve.ts';
import { runWork, WORK_OPTIONS } from './work.ts';

interface Command {
  usage: string;
  says: string;
  names: readonly string[];
  options: Spec;
  run(args: Parsed, io: Io): Promise<number>;
}

const COMMANDS: Readonly<Record<string, Command>> = {
  check: {
    usage: 'guessrow check MAP --planter FILE [options]',
    says: 'Compare a recorded map (polygons or points: GeoJSON, shapefile, GeoPackage, FlatGeobuf, GeoParquet, KML, CSV) with the planter as it really is.',
    names: ['MAP'],
    options: CHECK_OPTIONS,
    run: runCheck,
  },
  layout: {
    usage: 'guessrow layout FILE [options]',
    says: 'Draw the frame of a planter file with its sections, and say which layout rules it breaks.',
    names: ['FILE'],
    options: LAYOUT_OPTIONS,
    run: runLayout,
  },
  compare: {
    usage: 'guessrow compare BEFORE AFTER --planter FILE [options]',
    says: 'Compare the maps from before and after a fix: fixed, not fixed, or what would decide.',
    names: ['BEFORE', 'AFTER'],
    options: COMPARE_OPTIONS,
    run: runCompare,
  },
  rebuild: {
    usage: 'guessrow rebuild MAP --planter FILE --out FILE [options]',
    says: 'Write the map as it should have been: the declared bands on the recorded track, no ground twice, every change in a log.',
    names: ['MAP'],
    options: REBUILD_OPTIONS,
    run: runRebuild,
  },
  audit: {
    usage: 'guessrow audit PATH... --planter FILE --out FOLDER [options]',
    says: 'Check many fields (maps, folders, patterns, or a list .csv) and say which are worst and since when a setting was wrong.',
    names: ['PATH...'],
    options: AUDIT_OPTIONS,
    run: runAudit,
  },
  work: {
    usage: 'guessrow work --queue URL --maps-from PLACE [options]',
    says: 'Check fields for an audit that runs on any machine, over a queue.',
    names: [],
    options: WORK_OPTIONS,
    run: runWork,
  },
  explain: {
    usage: 'guessrow explain [SETTING]',
    says: 'Say what a setting is, how it goes wrong and what the map then shows; without a name, list them all.',
    names: ['[SETTING]'],
    options: EXPLAIN_OPTIONS,
    run: runExplain,
  },
  serve: {
    usage: 'guessrow serve [options]',
    says: 'Serve the page to this computer.',
    names: [],
    options: SERVE_OPTIONS,
    run: runServe,
  },
};

const STATUS_HELP = `Exit status of check: 0 the map agrees with the planter, 1 it differs, 2 it could not be checked,
3 undecided. Of compare: 0 fixed, 1 not fixed, 2 it could not be compared, 3 cannot tell yet.
Of audit: 0 every field agrees, 1 some differ, 2 none could be checked, 3 none differs and some are open.`;

function help(): string {
  const lines = Object.values(COMMANDS).map((c) => `  ${c.usage}\n      ${c.says}`);
  return `guessrow: which planter setting was wrong, from the map that the planter recorded.\n\n${lines.join('\n')}\n\n"guessrow help COMMAND" lists the options of a command; "guessrow --version" prints the version.\n${STATUS_HELP}\n`;
}

function commandHelp(c: Command): string {
  return `${c.usage}\n\n${c.says}\n\n${optionHelp(c.options)}\n${c.run === runCheck || c.run === runAudit ? `\n${STATUS_HELP}\n` : ''}`;
}

function commandNamed(name: string): Command {
  if (Object.hasOwn(COMMANDS, name)) return COMMANDS[name];
  const near = nearest(name, Object.keys(COMMANDS));
  const kind = name.startsWith('-') ? 'option' : 'command';
  throw new UserError(
    'unknown-command',
    `There is no ${kind} "${name}".`,
    {},
    near ? `Did you mean "guessrow ${near}"?` : 'See "guessrow --help".',
  );
}

/** Runs one command line and returns its exit status; nothing is thrown. */
export async function main(args: readonly string[], io: Io): Promise<number> {
  try {
    const [name, ...rest] = args;
    if (name === '--version' || name === '-V') {
      await io.out(`${VERSION}\n`);
      return 0;
    }
    const about = name === 'help' && rest.length > 0 ? rest[0] : null;
    if (about === null && (name === undefined || name === '--help' || name === '-h' || name === 'help')) {
      await io.out(help());
      return name === undefined ? 2 : 0;
    }
    const command = commandNamed(about ?? name);
    if (about !== null) {
      if (rest.length > 1)
        throw new UserError(
          'extra-argument',
          '"guessrow help" takes one command.',
          {},
          `Write "guessrow help ${about}".`,
        );
      await io.out(commandHelp(command));
      return 0;
    }
    const parsed = parseOptions(rest, command.options, command.names, name);
    if (parsed.switches.has('help')) {
      await io.out(commandHelp(command));
      return 0;
    }
    return await command.run(parsed, io);
  } catch (e) {
    const told = isOutOfMemory(e) ? outOfMemory() : e;
    if (told instanceof UserError) io.err(`guessrow: ${clean(line(told.detail))}\n`);
    else
      io.err(
        `guessrow: this is a bug in the program, not in your files.\n${e instanceof Error ? (e.stack ?? e.message) : String(e)}\n`,
      );
    return 2;
  }
}
