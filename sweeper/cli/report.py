"""`sweeper report`: a run on one page of HTML."""

from __future__ import annotations

from pathlib import Path

import click

from sweeper.cli.options import json_option, quiet_option, workers_option_of

FOLDER, CLIENT = "folder", "client"


@click.command()
@click.argument("run_folder", type=click.Path(path_type=Path), metavar="RUN")
@click.option("--for", "reader", type=click.Choice((FOLDER, CLIENT)), default=FOLDER, show_default=True,
              help="For the run's folder, with everything; for a client, without chain, settings and plugin notes.")
@click.option("--to", "target", type=click.Path(dir_okay=False, path_type=Path), metavar="OUT.HTML",
              help="The file to write, never over another. [default: report.html in the run's folder, or numbered]")
@workers_option_of("How many files are drawn side by side.")
@quiet_option
@json_option
def report(run_folder: Path, reader: str, target: Path | None, workers: int, quiet: bool, as_json: bool) -> int:
    """Tell RUN on one page of HTML: picks, variants against targets and limits, chain, pictures, caveats.

    \b
        sweeper report results/2026-11-25-lantern-bay
        sweeper report results/2026-11-25-lantern-bay --for client --to lantern-bay.html

    The file needs nothing else, and nothing of the run is changed.
    """
    from sweeper.audition.report import write_report
    from sweeper.cli.answers import print_json
    from sweeper.cli.progress import working
    from sweeper.table.written import read_run
    from sweeper.workers import Pool

    path = read_run(run_folder).path
    place = target or _free(path, "report" if reader == FOLDER else "report-for-client")
    with working("drawing", quiet or as_json), Pool(workers) as pool:
        written = write_report(run_folder, place, reader == CLIENT, pool)
    if as_json:
        print_json({"schema": 1, "run": str(path), "file": str(written.file), "bytes": written.bytes,
                    "for": reader, "drawn": list(written.drawn)})  # fmt: skip
    else:
        click.echo(f"{written.file}  ({max(1, round(written.bytes / 1e3))} kB)")
    return 0


def _free(folder: Path, name: str) -> Path:
    """report.html, or with the first number behind it that is free."""
    number, place = 1, folder / f"{name}.html"
    while place.exists():
        number += 1
        place = folder / f"{name}-{number}.html"
    return place
