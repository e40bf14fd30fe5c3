"""`sweeper intake`: mixes looked over before the work."""

from __future__ import annotations

from pathlib import Path

import click

from sweeper.cli.options import json_option, quiet_option


@click.command()
@click.argument("files", type=click.Path(path_type=Path), nargs=-1, metavar="FILE...", required=True)
@quiet_option
@json_option
def intake(files: tuple[Path, ...], quiet: bool, as_json: bool) -> int:
    """Look each mix FILE over before the work: what to hear again, and what to ask the mixer.

    \b
        sweeper intake lantern.wav
        sweeper intake *.wav --json

    Each is ok, to look at, or to stop at: nobody should work on it as it is. Ends with 1 when one is to stop at.
    """
    from sweeper.cli.answers import print_json
    from sweeper.cli.progress import working
    from sweeper.cli.show_intake import data_of, show_intake
    from sweeper.delivery.intake.finding import Verdict
    from sweeper.delivery.looking_over import looked_over
    from sweeper.workers import Pool

    with working("listening", quiet or as_json), Pool(min(len(files), 2)) as pool:
        found = looked_over(files, pool)
    if as_json:
        print_json({"schema": 1, "files": [data_of(one) for one in found]})
    else:
        for one in found:
            show_intake(one)
    return 1 if any(one.verdict is Verdict.STOP for one in found) else 0
