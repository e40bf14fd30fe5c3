"""`sweeper sections`: sections proposed for a mix."""

from __future__ import annotations

from pathlib import Path

import click

from sweeper.cli.options import json_option, quiet_option


@click.command()
@click.argument("mix", type=click.Path(path_type=Path), metavar="MIX")
@click.option("--most", type=click.IntRange(1, 26), default=8, show_default=True, metavar="N",
              help="At most so many sections.")  # fmt: skip
@click.option("--shortest", "shortest_s", type=click.FloatRange(1, 600), default=8.0, show_default=True,
              metavar="SECONDS", help="No section is shorter.")  # fmt: skip
@quiet_option
@json_option
def sections(mix: Path, most: int, shortest_s: float, quiet: bool, as_json: bool) -> int:
    """Propose sections of a MIX, where its level or its spectrum changes, as lines to paste into a chain file.

    \b
        sweeper sections lantern.wav
        sweeper sections lantern.wav --most 5 --shortest 15

    Sections that are alike have the same letter. What they are in the music is for you to say: rename and move them.
    """
    from sweeper.cli.answers import print_json
    from sweeper.cli.progress import working
    from sweeper.cli.show_sections import data_of, lines_of
    from sweeper.render.proposing import SectionsOrder, proposed
    from sweeper.workers import Pool

    with working("looking for sections", quiet or as_json), Pool(1) as pool:
        found = proposed(SectionsOrder(mix, most, shortest_s), pool)
    if as_json:
        print_json(data_of(found))
    else:
        click.echo("\n".join(lines_of(found, mix)))
    return 0
