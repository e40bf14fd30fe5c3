"""`sweeper check`: a chain file held against its plugins, and what a run of it would take."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from sweeper.cli.options import CHAIN_FILE, json_option, patience_option, quiet_option, workers_option

if TYPE_CHECKING:
    from sweeper.table.forecast import Checked


@click.command()
@click.argument("chain_file", type=CHAIN_FILE)
@workers_option
@patience_option
@quiet_option
@json_option
def check(chain_file: Path, workers: int, patience_s: float, quiet: bool, as_json: bool) -> int:
    """Check CHAIN_FILE with its plugins loaded; count variants, estimate time and disk. Renders none of the mix.

    \b
        sweeper check lantern.chain.yaml
        sweeper check lantern.chain.yaml --json

    The time is taken from ten seconds of noise through the chain as it stands.
    """
    from sweeper.cli.answers import print_json
    from sweeper.cli.progress import working
    from sweeper.pipeline import Options
    from sweeper.pipeline import check as check_chain

    with working("loading the plugins, measuring the mix, trying the chain on noise", quiet or as_json):
        checked = check_chain(chain_file, Options(workers=workers, patience_s=patience_s))
    if as_json:
        print_json(checked.data)
    else:
        _show(checked)
    return 0


def _show(checked: Checked) -> None:
    from rich.markup import escape

    from sweeper.cli.streams import out

    console = out()
    for stage in checked.stages:
        console.print(escape(stage), soft_wrap=True)
    for warning in checked.warnings:
        console.print(f"note: {escape(warning)}", soft_wrap=True)
    console.print(escape(checked.estimate), soft_wrap=True)
