"""The `sweeper` command. Verbs are imported when they are called, so that --help answers at once."""

from __future__ import annotations

import importlib
import os
import sys
import traceback
from datetime import datetime
from pathlib import Path

import click

from sweeper.errors import SweeperError
from sweeper.version import VERSION

#: Verb -> what its line in the overview says.
VERBS = {
    "intake": "Look a mix over before the work: clips, DC, phase, lossy sources.",
    "start": "Write a first chain file for one or more mixes.",
    "plugins": "List the installed plugins, or show one plugin's settings.",
    "dial": "Dial a stage in its plugin's own window, on a loop of the music.",
    "check": "Check a chain file with its plugins loaded; estimate the time.",
    "run": "Render every variant of a chain file, measured and level-matched.",
    "audition": "Hear a run's variants equally loud, blind if wanted; keep the choice.",
    "shortlist": "Rank a finished run by other limits or preferences.",
    "report": "Tell a run on one page of HTML, for the client or the folder.",
    "effects": "Say what each varied setting did to each measurement.",
    "print": "Print the delivery files of a variant, and measure what is in them.",
    "album": "Put kept variants together as one record, with a proof.",
    "recall": "Make a past master again from its sheet or file, and prove it.",
    "archive": "Put a run into one file, with everything but the plugins.",
    "contributions": "Say what each stage adds: after it, and with it left out.",
    "inside": "Say what each stage of a variant does to the music.",
    "sections": "Propose sections of a mix, as lines for a chain file.",
    "compare": "Say what one file is to another: null test, level, time, spectrum.",
    "measure": "Measure sound files: loudness, peaks, dynamics, stereo.",
}

EXIT_CODES = """\b
Exit codes:
  0    done
  1    done, but no variant is on target and inside every limit,
       or measure --against: a requirement is missed or cannot be judged,
       intake: a mix should not be worked on as it is,
       print or album --over stop: a file would be over its ceiling
  2    wrong use of the command line
  3    a chain file, a sound file or a recall sheet is wrong
  4    a plugin failed; the table is written all the same
  5    the results folder cannot be used
  6    recall: a master does not come out as it was; both files are kept
  7    sound was sent out, and has to come back before the run can go on
  70   a fault of ours; a report is written and its path printed
  130  stopped with Ctrl-C; finished variants are kept"""


class _LazyGroup(click.Group):
    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in VERBS:
            return None
        command = getattr(importlib.import_module(f"sweeper.cli.{cmd_name}"), cmd_name)
        assert isinstance(command, click.Command)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(VERBS.items()))

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args and args[0] not in VERBS and not args[0].startswith("-"):
            import difflib

            near = difflib.get_close_matches(args[0], VERBS, n=1)
            hint = f"Did you mean '{near[0]}'?" if near else "`sweeper --help` lists them."
            ctx.fail(f"No command is called '{args[0]}'. {hint}")
        return super().resolve_command(ctx, args)


@click.group(cls=_LazyGroup, epilog=EXIT_CODES, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(VERSION, prog_name="sweeper")
def root() -> None:
    """Render a mastering chain of your own plugins in every setting you doubt, on target, level-matched.

    \b
        sweeper start mix.wav
        sweeper check mix.chain.yaml
        sweeper run mix.chain.yaml
    """


def main() -> None:
    """The entry point: runs a verb and ends the process with its exit code."""
    sys.exit(exit_code(sys.argv[1:]))


def exit_code(arguments: list[str]) -> int:
    """Run the command line; every error becomes words on stderr and a code (see EXIT_CODES)."""
    as_json = "--json" in arguments
    try:
        result = root.main(arguments, prog_name="sweeper", standalone_mode=False)
    except click.exceptions.Abort:
        return 130
    except click.ClickException as exc:
        if as_json:
            _show_usage(exc)
        exc.show()
        return exc.exit_code
    except SweeperError as exc:
        _show(exc, as_json)
        return exc.exit_code
    except KeyboardInterrupt:
        click.echo("stopped", err=True)
        return 130
    except BrokenPipeError:
        _silence_stdout()
        return 0
    except Exception as exc:  # noqa: BLE001 - the last line of defence: said in words, report kept
        click.echo(f"a fault of ours: {type(exc).__name__}: {exc}\n    please send us {_report(exc)}", err=True)
        return 70
    return result if isinstance(result, int) else 0


def _show(error: SweeperError, as_json: bool) -> None:
    from sweeper.cli.answers import error_data, print_json

    if as_json:
        print_json(error_data(error))
    click.echo(str(error), err=True)


def _show_usage(error: click.ClickException) -> None:
    from sweeper.cli.answers import print_json

    words = {"kind": "UsageError", "what": error.format_message(), "remedy": "see --help", "problems": []}
    print_json({"schema": 1, "error": words})


def _report(exc: Exception) -> Path:
    import platform

    path = Path.cwd() / f"sweeper-report-{datetime.now():%Y%m%d-%H%M%S}-{os.getpid()}.txt"
    text = "".join(traceback.format_exception(exc))
    text = f"sweeper {VERSION}, Python {platform.python_version()}, {platform.platform()}\n{sys.argv}\n\n{text}"
    try:
        path.write_text(text, encoding="utf-8")
    except OSError:
        click.echo(text, err=True)
        return Path("(the folder cannot be written: the report stands above)")
    return path


def _silence_stdout() -> None:
    """The reader of our output has gone: nothing more can be said, and Python must not complain at its end."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
