"""`sweeper run`: the main job."""

from __future__ import annotations

from pathlib import Path

import click

from sweeper.cli.options import (
    CHAIN_OR_RUN,
    json_option,
    memory_limit_option,
    patience_option,
    quiet_option,
    results_option,
    store_limit_option,
    workers_option,
)


@click.command()
@click.argument("chain_file", metavar="CHAIN|RUNFOLDER", type=CHAIN_OR_RUN)
@results_option
@workers_option
@store_limit_option
@patience_option
@memory_limit_option
@quiet_option
@click.option("--more", type=click.IntRange(1, 10_000), metavar="N",
              help="Add N variants of each mix to a finished run that explores.")
@json_option
def run(chain_file: Path, results: Path, workers: int, store_limit_bytes: int | None, patience_s: float,
        memory_limit_bytes: int | None, quiet: bool, more: int | None, as_json: bool) -> int:  # fmt: skip
    """Render every variant that a chain file asks for: on target, measured, level-matched, with its recall sheet.

    \b
        sweeper run lantern.chain.yaml
        sweeper run lantern.chain.yaml --results /Volumes/Masters --workers 4
        sweeper run results/2026-11-25-lantern-bay
        sweeper run results/2026-11-25-lantern-bay --more 30

    Given a chain file it writes a new folder every time, never over an old one. Given the folder of a run that was
    stopped it goes on there; finished variants are not rendered again. Start listening at a low level.
    """
    from sweeper.cli.answers import print_json
    from sweeper.cli.progress import RunProgress
    from sweeper.cli.show_run import show_run
    from sweeper.pipeline import Options, resume
    from sweeper.pipeline import run as run_chain

    if more is not None and not chain_file.is_dir():
        raise click.UsageError("--more adds to a run that explores: name its folder")
    with RunProgress(quiet or as_json) as progress:
        options = Options(results, workers, patience_s, None, store_limit_bytes, progress.event, progress.row_done,
                          memory_limit_bytes)  # fmt: skip
        is_run = chain_file.is_dir()
        finished = resume(chain_file, options, more or 0) if is_run else run_chain(chain_file, options)
    if as_json:
        print_json(finished.data)
    else:
        show_run(finished)
    if finished.trouble:
        return 5
    if any(row.failed for row in finished.rows):
        return 4
    return 0 if any(row.fits for row in finished.rows) else 1
