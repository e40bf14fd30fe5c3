"""`sweeper start`: a first chain file."""

from __future__ import annotations

import os
from pathlib import Path

import click

from sweeper.cli.options import json_option


@click.command()
@click.argument("mixes", type=click.Path(path_type=Path), nargs=-1, required=True, metavar="MIX...")
@click.option("--to", "target", type=click.Path(dir_okay=False, path_type=Path),
              help="The chain file to write. [default: the first mix's name, .chain.yaml, in this folder]")
@json_option
def start(mixes: tuple[Path, ...], target: Path | None, as_json: bool) -> int:
    """Write a commented chain file for the given mixes, ready to run and to edit. Never over an existing file.

    \b
        sweeper start lantern.wav
        sweeper start one.wav two.wav --to album.chain.yaml
    """
    from sweeper.audio.placing import place_text
    from sweeper.chain import TemplateMix, template
    from sweeper.cli.answers import print_json
    from sweeper.cli.progress import working
    from sweeper.render.orders import MeasureOrder
    from sweeper.render.sources import measured
    from sweeper.workers import Pool

    target = target or Path(f"{mixes[0].stem}.chain.yaml")
    with working("measuring", as_json), Pool(min(len(mixes), 2)) as pool:
        found = measured([MeasureOrder(mix, {}) for mix in mixes], pool)
    described = [
        TemplateMix(_as_written(one.file.path, target), one.file.duration_s, one.measurements["loudness_lufs"],
                    one.file.format.rate_hz)
        for one in found
    ]  # fmt: skip
    place_text(target, template(described, mixes[0].stem), "name another file with --to, or edit that one")
    if as_json:
        print_json({"schema": 1, "chain_file": str(target)})
    else:
        click.echo(f"{target} is written. Edit it, then:\n    sweeper check {target}\n    sweeper run {target}")
    return 0


def _as_written(mix: Path, target: Path) -> str:
    """The mix as seen from the chain file's folder, with forward slashes; absolute when it is on another drive."""
    try:
        return Path(os.path.relpath(mix.absolute(), target.absolute().parent)).as_posix()
    except ValueError:
        return mix.absolute().as_posix()
