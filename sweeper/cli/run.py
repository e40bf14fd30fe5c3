"""`sweeper run`: the main job."""

from __future__ import annotations

from pathlib import Path

import click

from sweeper.cli.options import CHAIN_FILE, json_option, patience_option, quiet_option, results_option, workers_option


@click.command()
@click.argument("chain_file", type=CHAIN_FILE)
@results_option
@workers_option
@patience_option
@quiet_option
@json_option
def run(chain_file: Path, results: Path, workers: int, patience_s: float, quiet: bool, as_json: bool) -> int:
    """Render every variant that CHAIN_FILE asks for: on target, measured, level-matched, with its recall sheet.

    \b
        sweeper run lantern.chain.yaml
        sweeper run lantern.chain.yaml --results /Volumes/Masters --workers 4

    Writes a new folder every time and never over an old one. Start listening at a low level.
    """
    from sweeper.cli.answers import print_json
    from sweeper.cli.progress import RunProgress
    from sweeper.cli.show_run import show_run
    from sweeper.pipeline import Options
    from sweeper.pipeline import run as run_chain

    with RunProgress(quiet or as_json) as progress:
        options = Options(results, workers, patience_s, progress.event, progress.row_done)
        finished = run_chain(chain_file, options)
    if as_json:
        print_json(finished.data)
    else:
        show_run(finished)
    if finished.trouble:
        return 5
    if any(not row.done for row in finished.rows):
        return 4
    return 0 if any(row.fits for row in finished.rows) else 1
