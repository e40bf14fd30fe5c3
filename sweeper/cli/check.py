"""`sweeper check`: a chain file held against its plugins, and what a run of it would take."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

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

if TYPE_CHECKING:
    from sweeper.table.forecast import Checked


@click.command()
@click.argument("chain_file", type=CHAIN_FILE)
@workers_option
@store_limit_option
@patience_option
@memory_limit_option
@quiet_option
@click.option("--twice", is_flag=True, help="Also render some seconds of the mix twice, and say what differs.")
@json_option
def check(chain_file: Path, workers: int, store_limit_bytes: int | None, patience_s: float,
          memory_limit_bytes: int | None, quiet: bool, twice: bool, as_json: bool) -> int:  # fmt: skip
    """Check CHAIN_FILE with its plugins loaded; count variants and steps, estimate time and disk.

    \b
        sweeper check lantern.chain.yaml
        sweeper check lantern.chain.yaml --twice

    Renders none of the mix, but for six seconds with --twice. The time is taken from some seconds of noise through
    each plugin, once; the figures are remembered. Noise also shows whether a stage's delay is what its plugin
    reports, and whether it puts out anything that is not meant.
    """
    from sweeper.cli.answers import print_json
    from sweeper.cli.progress import working
    from sweeper.pipeline import Options
    from sweeper.pipeline import check as check_chain

    with working("loading the plugins, measuring the mix, trying the chain on noise", quiet or as_json):
        options = Options(workers=workers, patience_s=patience_s, store_limit_bytes=store_limit_bytes,
                          memory_limit_bytes=memory_limit_bytes)  # fmt: skip
        checked = check_chain(chain_file, options, twice)
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
    for line in checked.estimate:
        console.print(escape(line), soft_wrap=True)
