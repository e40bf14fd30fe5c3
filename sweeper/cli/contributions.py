"""`sweeper contributions`: what each stage of a chain does for the whole."""

from __future__ import annotations

from pathlib import Path

import click

from sweeper.cli.options import (
    CHAIN_FILE,
    json_option,
    memory_limit_option,
    patience_option,
    quiet_option,
    store_limit_option,
    workers_option,
)


@click.command()
@click.argument("chain_file", metavar="CHAIN", type=CHAIN_FILE)
@click.option("--variant", "number", type=click.IntRange(min=1), metavar="NUMBER",
              help="Which variant, as the table of a run numbers them.  [default: the first of the mix]")
@click.option("--mix", metavar="N|FILE", help="Which mix, by number or name.  [default: the first]")
@workers_option
@store_limit_option
@patience_option
@memory_limit_option
@quiet_option
@json_option
def contributions(chain_file: Path, number: int | None, mix: str | None, workers: int, store_limit_bytes: int | None,
                  patience_s: float, memory_limit_bytes: int | None, quiet: bool, as_json: bool) -> int:  # fmt: skip
    """Say what each stage of one variant does: the sound after it, and the chain without it, at matched loudness.

    \b
        sweeper contributions lantern.chain.yaml
        sweeper contributions lantern.chain.yaml --variant 007

    Each stage is left out in turn, a bus as one, and the reaches are solved again. Renders are thrown away once they
    are measured; shared steps go into the store. What a stage does inside, attenuation and distortion, `sweeper
    inside` tells of a finished run.
    """
    from sweeper.cli.answers import print_json
    from sweeper.cli.progress import RunProgress
    from sweeper.cli.show_contributions import show_contributions
    from sweeper.pipeline import Options
    from sweeper.pipeline import contributions as contributions_of

    if number is not None and mix is not None:
        raise click.UsageError("a variant's number says which mix it is of: leave --mix or --variant out")
    with RunProgress(quiet or as_json) as progress:
        options = Options(workers=workers, patience_s=patience_s, store_limit_bytes=store_limit_bytes,
                          watch=progress.event, row_done=progress.row_done,
                          memory_limit_bytes=memory_limit_bytes)  # fmt: skip
        found = contributions_of(chain_file, number, mix, options)
    if as_json:
        print_json(found.as_data())
    else:
        show_contributions(found)
    return 4 if found.failed else 0
