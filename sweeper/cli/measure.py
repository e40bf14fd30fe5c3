"""`sweeper measure`: the meters on any sound file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from sweeper.cli.drawing import Stretch, plot_option, section_option, target_option
from sweeper.cli.options import json_option, quiet_option

if TYPE_CHECKING:
    from sweeper.render.orders import Measured


@click.command()
@click.argument("files", type=click.Path(path_type=Path), nargs=-1, required=True, metavar="FILE...")
@click.option("--cross-check", is_flag=True, help="Also measure the loudness with an independent meter.")
@plot_option
@target_option
@section_option
@quiet_option
@json_option
def measure(
    files: tuple[Path, ...], cross_check: bool, pattern: str | None, target_lufs: float | None,
    sections: tuple[Stretch, ...], quiet: bool, as_json: bool,
) -> int:  # fmt: skip
    """Measure each FILE: loudness, true peak, crest, range, stereo. Any format that libsndfile reads.

    \b
        sweeper measure master.wav mix.flac
        sweeper measure master.wav --json
        sweeper measure master.wav --plot master.svg --target "-14 LUFS" --section chorus=0:40-1:00

    Loudness by ITU-R BS.1770-5 and EBU Tech 3341/3342; the README says what each figure means.
    """
    from sweeper.cli.answers import print_json
    from sweeper.cli.drawing import draw, places, plot_orders
    from sweeper.cli.progress import working
    from sweeper.cli.show_measured import show_measured
    from sweeper.render.cross_check import integrated_lufs
    from sweeper.render.orders import MeasureOrder
    from sweeper.render.plotting import plotted
    from sweeper.render.sources import measured
    from sweeper.workers import Pool

    if pattern is None and (sections or target_lufs is not None):
        raise click.UsageError("--section and --target belong to a picture; say where with --plot")
    pictures = places(pattern, files) if pattern is not None else []
    orders = plot_orders(files, sections) if pictures else []
    with working("measuring", quiet or as_json), Pool(min(len(files), 2)) as pool:
        plots = plotted(orders, pool)
        found = [one.measured for one in plots] or measured([MeasureOrder(file, {}) for file in files], pool)
    others = [integrated_lufs(file) for file in files] if cross_check else []
    draw(plots, orders, pictures, target_lufs)
    if as_json:
        data = [_data(one, others[i] if others else None) for i, one in enumerate(found)]
        drawn = [{"picture": str(path)} for path in pictures] or [{}] * len(data)
        print_json({"schema": 1, "files": [{**one, **more} for one, more in zip(data, drawn, strict=True)]})
    else:
        show_measured(found, others)
        for path in pictures:
            click.echo(f"{path} is drawn")
    return 0


def _data(one: Measured, other_lufs: float | None) -> dict[str, object]:
    data: dict[str, object] = {
        "file": str(one.file.path), "duration_s": one.file.duration_s, "rate_hz": one.file.format.rate_hz,
        "channels": one.file.format.channels, "measurements": one.measurements.as_data(),
    }  # fmt: skip
    return data if other_lufs is None else {**data, "cross_check_loudness_lufs": other_lufs}
