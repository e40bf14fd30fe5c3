"""`sweeper dial`: a plugin's own window on a loop of the music."""

from __future__ import annotations

import os
import sys
import threading
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sweeper.cli.options import CHAIN_FILE, json_option, patience_option, quiet_option

if TYPE_CHECKING:
    from sweeper.dial.dialled import Dialled
    from sweeper.dial.signs import Signs


@click.command()
@click.argument("chain_file", metavar="CHAIN", type=CHAIN_FILE)
@click.argument("stage")
@click.option("--alternative", metavar="LABEL", help="Which one, for a stage with `any of`.")
@click.option("--mix", metavar="N|FILE", help="Which mix plays, by number or name.  [default: the first]")
@click.option("--section", metavar="NAME", help="The section of the mix that goes round.")
@click.option("--from", "start", metavar="TIME", help="Where the loop starts, e.g. 1:00; with --to.")
@click.option("--to", "end", metavar="TIME", help="Where it ends.  [default: the loudest 20 s go round]")
@patience_option
@quiet_option
@json_option
def dial(chain_file: Path, stage: str, alternative: str | None, mix: str | None, section: str | None,
         start: str | None, end: str | None, patience_s: float, quiet: bool, as_json: bool) -> int:  # fmt: skip
    """Open the own window of a stage's plugin while the music plays through it; keep what was dialled.

    \b
        sweeper dial lantern.chain.yaml glue
        sweeper dial lantern.chain.yaml colour --alternative "Valve Colour" --from 1:00 --to 1:20

    Closing the window writes a new state file into states/ and puts it into the chain file, with the settings that
    stand there; a copy of the chain file as it was stays beside it. b and Enter: bypass at the same loudness.
    """
    from sweeper.cli.answers import print_json
    from sweeper.dial.dialled import Asked
    from sweeper.dial.dialling import dial as dial_stage

    def told(line: str) -> None:
        if not quiet:
            click.echo(line, err=True)

    def opened(signs: Signs) -> None:
        told("b and Enter: bypass at the same loudness. Close the window to keep what you dialled; Ctrl-C leaves the "
             "chain file alone.")  # fmt: skip
        told("The sound comes up within two seconds: start with your monitors turned down.")
        threading.Thread(target=_listen, args=(signs,), daemon=True).start()

    asked = Asked(alternative, mix, section, _span_s(section, start, end), patience_s, opened, told)
    made = dial_stage(chain_file, stage, asked)
    if as_json:
        print_json(made.as_data())
    else:
        _show(made)
    return 0


def _span_s(section: str | None, start: str | None, end: str | None) -> tuple[float, float] | None:
    """--from and --to in seconds."""
    from sweeper.units import parse_time_s

    if (start is None) != (end is None):
        raise click.UsageError("--from and --to go together")
    if start is None or end is None:
        return None
    if section is not None:
        raise click.UsageError("--section names the loop already: leave --from and --to out")
    start_s, end_s = parse_time_s(start), parse_time_s(end)
    if start_s is None or end_s is None or end_s <= start_s:
        raise click.UsageError(f"--from {start} --to {end} is no stretch of time: write e.g. --from 1:00 --to 1:20")
    return start_s, end_s


def _listen(signs: Signs) -> None:
    """Bypass on every line "b". Read past Python's own buffer, whose lock would hold up the end of the process."""
    rest = b""
    try:
        while more := os.read(sys.stdin.fileno(), 1024):
            *lines, rest = (rest + more).split(b"\n")
            for line in lines:
                if line.strip().lower() == b"b":
                    signs.toggle_bypass()
    except (OSError, ValueError, AttributeError):  # no stdin, or the window's folder is gone: there is nothing to hear
        return


def _show(made: Dialled) -> None:
    if made.state is None:
        click.echo("nothing was dialled, and nothing is written")
        return
    if made.copy is None:
        click.echo(f"{made.state} is written; {made.chain_file} is as it was")
    else:
        _show_changed(made)
    for note in made.notes:
        click.echo(f"note: {note}")


def _show_changed(made: Dialled) -> None:
    for one in made.changed:
        written = f"   in the chain file: {one.written}" if one.written else ""
        click.echo(f"{one.moved.name}: {one.moved.before} -> {one.moved.after}{written}")
    if not made.changed:
        click.echo("no setting was moved, but the plugin's state is another one")
    click.echo(f"{made.state} is written, and {made.chain_file} names it; as it was: {made.copy}")
