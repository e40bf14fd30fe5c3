"""`sweeper compare`: what one file is to another."""

from __future__ import annotations

from pathlib import Path

import click

from sweeper.cli.options import json_option, quiet_option


@click.command()
@click.argument("one", type=click.Path(path_type=Path), metavar="A")
@click.argument("other", type=click.Path(path_type=Path), metavar="B")
@click.option("--results", type=click.Path(file_okay=False, path_type=Path), default=Path("results"),
              show_default=True, help="Where the sheets of files from a run are looked for.")  # fmt: skip
@click.option("--deep", is_flag=True,
              help="Say, too, what B is to A beyond a filter and a gain that moves: residue and attenuation.")
@quiet_option
@json_option
def compare(one: Path, other: Path, results: Path, deep: bool, quiet: bool, as_json: bool) -> int:
    """Say what B is to A: what a null test leaves once B is aligned and as loud, and by what it differs.

    \b
        sweeper compare approved.wav recalled.wav
        sweeper compare "mix.wav" "master from the client.wav" --json
        sweeper compare mix.wav master.wav --deep

    Everything is told as B against A: +1.5 dB = B has more. Nothing is written.
    """
    from sweeper.cli.answers import print_json
    from sweeper.cli.compared_data import data_of
    from sweeper.cli.progress import working
    from sweeper.cli.show_compared import show_compared
    from sweeper.recall.repeating import sheet_of, unsteady
    from sweeper.render.comparing import compared
    from sweeper.render.comparison import CompareOrder
    from sweeper.workers import Pool

    with working(f"comparing {one.name} and {other.name}", quiet or as_json), Pool(1) as pool:
        found = compared(CompareOrder(one, other, deep), pool)
    sheets = (sheet_of(one, results), sheet_of(other, results))
    if as_json:
        print_json(data_of(found, sheets, unsteady(sheets)))
    else:
        show_compared(found, sheets, unsteady(sheets))
    return 0
