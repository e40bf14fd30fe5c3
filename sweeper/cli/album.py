"""`sweeper album`: kept variants put together as one record."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from sweeper.cli.options import json_option, quiet_option, workers_option_of
from sweeper.cli.print_options import CeilingType


@click.command()
@click.argument("sources", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="ALBUM-FILE | RUN...")
@click.option("--write", "target", type=click.Path(dir_okay=False, path_type=Path), metavar="FILE",
              help="Write a first album file for the RUNs, with what was picked of each, and print nothing.")
@click.option("--results", type=click.Path(file_okay=False, path_type=Path), default=Path("results"),
              show_default=True, help="Where the album gets its folder.")
@click.option("--ceiling", "ceiling_dbtp", type=CeilingType(), default=None,
              help="The highest true peak of every file. [default: the spec's, else what each variant was held under]")
@click.option("--over", type=click.Choice(["trim", "stop"]), default="trim", show_default=True,
              help="What to do where conversion lifts a file over its ceiling: turn it down, or print nothing.")
@workers_option_of("How many files are printed side by side.")
@quiet_option
@json_option
def album(sources: tuple[Path, ...], target: Path | None, results: Path, ceiling_dbtp: float | None, over: str,
          workers: int, quiet: bool, as_json: bool) -> int:  # fmt: skip
    """Put kept variants together as one record: files of every track, a continuous proof with markers, the order.

    \b
        sweeper album --write lights.album.yaml results/2026-11-24-lantern results/2026-11-25-harbour
        sweeper album lights.album.yaml

    The album file names the tracks in their order, the silence between them, titles and ISRCs. Everything goes into a
    new folder under --results, never over another.
    """
    if target is not None:
        return _write(sources, target, as_json)
    if len(sources) != 1:
        raise click.UsageError("name one album file; --write FILE makes one from runs")
    if sources[0].is_dir():
        raise click.UsageError(f"{sources[0]} is a folder: --write FILE makes an album file from runs")
    from sweeper.album.assembling import How, assemble
    from sweeper.album.written import write_order
    from sweeper.chain.albums import load_album
    from sweeper.cli.answers import print_json
    from sweeper.cli.progress import working
    from sweeper.cli.show_album import show_album
    from sweeper.delivery.ceiling import Over
    from sweeper.workers import Pool

    wanted = load_album(sources[0])
    how = How(results, Over(over), datetime.now().replace(microsecond=0), ceiling_dbtp)
    with working(f"printing {len(wanted.tracks)} tracks", quiet or as_json), Pool(workers) as pool:
        made = assemble(wanted, how, pool)
    data = write_order(made)
    if as_json:
        print_json(data)
    else:
        show_album(made)
    return 0


def _write(runs: tuple[Path, ...], target: Path, as_json: bool) -> int:
    from sweeper.album.drafted import drafted
    from sweeper.audio.placing import place_text
    from sweeper.cli.answers import print_json
    from sweeper.cli.show_run import shown_path

    title = target.name.removesuffix(".yaml").removesuffix(".yml").removesuffix(".album")
    place_text(target, drafted(runs, title, target.absolute().parent), "name another file with --write")
    if as_json:
        print_json({"schema": 1, "file": str(target)})
    else:
        click.echo(f"{shown_path(target)}: put the tracks in their order, then `sweeper album {shown_path(target)}`")
    return 0
