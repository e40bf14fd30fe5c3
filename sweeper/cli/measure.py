"""`sweeper measure`: the meters on any sound file."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sweeper.cli.drawing import Stretch, plot_option, section_option, target_option
from sweeper.cli.options import json_option, quiet_option

if TYPE_CHECKING:
    from sweeper.errors import SweeperError
    from sweeper.render.orders import Measured
    from sweeper.render.plotting import PlotOrder, Plotted
    from sweeper.targets import Target

#: What `--against` takes to list the targets.
LIST = "list"


@click.command()
@click.argument("files", type=click.Path(path_type=Path), nargs=-1, metavar="FILE...")
@click.option("--cross-check", is_flag=True, help="Also measure the loudness with an independent meter.")
@click.option("--against", multiple=True, metavar="TARGET",
              help="Hold against a delivery target, e.g. ebu-r128; 'list' shows them all. May be given several times.")
@click.option("--playback", is_flag=True, help="Show what normalised playback turns each file to.")
@plot_option
@target_option
@section_option
@quiet_option
@json_option
def measure(
    files: tuple[Path, ...], cross_check: bool, against: tuple[str, ...], playback: bool, pattern: str | None,
    target_lufs: float | None, sections: tuple[Stretch, ...], quiet: bool, as_json: bool,
) -> int:  # fmt: skip
    """Measure each FILE: loudness, true peak, crest, range, stereo. Any format that libsndfile reads.

    \b
        sweeper measure master.wav mix.flac
        sweeper measure master.wav --json
        sweeper measure master.wav --against ebu-r128
        sweeper measure --against list
        sweeper measure master.wav --plot master.svg --target "-14 LUFS" --section chorus=0:40-1:00

    Loudness by ITU-R BS.1770-5 and EBU Tech 3341/3342; the README says what each figure means.
    Ends with 1 when a requirement of a target is missed or cannot be judged.
    """
    if LIST in against:
        if files or cross_check or against != (LIST,) or playback or pattern or sections or target_lufs is not None:
            raise click.UsageError("--against list shows the targets and measures nothing: leave out the rest")
        return _list(as_json)
    if not files:
        raise click.UsageError("Missing argument 'FILE...'.")
    if pattern is None and (sections or target_lufs is not None):
        raise click.UsageError("--section and --target belong to a picture; say where with --plot")
    from sweeper.cli.drawing import draw, places, plot_orders

    targets = _targets(against)
    pictures = places(pattern, files) if pattern is not None else []
    orders = plot_orders(files, sections) if pictures else []
    found, others, plots = _measured(files, orders, cross_check, quiet or as_json)
    if not as_json:
        _show(found, others, targets, playback)
    drawn, fault = _drawn(draw(plots, orders, pictures, target_lufs), as_json)
    if as_json:
        _print(found, others, targets, playback, drawn, fault)
    if fault is not None:
        click.echo(str(fault), err=True)
        return fault.exit_code
    if not targets:
        return 0
    from sweeper.cli.show_against import all_met

    return 0 if all_met(found, targets) else 1


def _list(as_json: bool) -> int:
    from sweeper.cli.answers import print_json
    from sweeper.cli.show_targets import show_targets, targets_data
    from sweeper.cli.streams import out

    if as_json:
        print_json({"schema": 1, "targets": targets_data()})
    else:
        show_targets(out())
    return 0


def _targets(names: tuple[str, ...]) -> tuple[Target, ...]:
    """The targets of that name, each once. Raises UsageError for a name that is none to deliver to."""
    from sweeper.chain.one_condition import read_target_text
    from sweeper.errors import ChainFileError

    try:
        return tuple(dict.fromkeys(read_target_text(name, "--against") for name in names))
    except ChainFileError as exc:
        raise click.UsageError(exc.what) from exc


def _measured(
    files: tuple[Path, ...], orders: Sequence[PlotOrder], cross_check: bool, quiet: bool
) -> tuple[list[Measured], list[float | None], Sequence[Plotted]]:
    """The files measured, their loudness by the independent meter, and what is drawn of them, where asked for."""
    from sweeper.cli.progress import working
    from sweeper.render.cross_check import integrated_lufs
    from sweeper.render.orders import MeasureOrder
    from sweeper.render.plotting import plotted
    from sweeper.render.sources import measured
    from sweeper.workers import Pool

    with working("measuring", quiet), Pool(min(len(files), 2)) as pool:
        plots = plotted(orders, pool)
        found = [one.measured for one in plots] or list(measured([MeasureOrder(file, {}) for file in files], pool))
    return found, [integrated_lufs(file) for file in files] if cross_check else [], plots


def _show(found: Sequence[Measured], others: Sequence[float | None], targets: Sequence[Target], playback: bool) -> None:
    from sweeper.cli.show_against import show_against
    from sweeper.cli.show_measured import show_measured
    from sweeper.cli.show_playback import show_playback
    from sweeper.cli.streams import out

    show_measured(found, others)
    show_against(found, targets, out())
    if playback:
        show_playback(found, out())


def _drawn(pictures: Iterator[Path], quiet: bool) -> tuple[list[Path], SweeperError | None]:
    """The pictures, told unless quiet, and why there are no more of them: what was measured is never lost by that."""
    from sweeper.errors import SweeperError

    drawn: list[Path] = []
    try:
        for path in pictures:
            drawn.append(path)
            if not quiet:
                click.echo(f"{path} is drawn")
    except SweeperError as exc:
        return drawn, exc
    return drawn, None


def _print(found: Sequence[Measured], others: Sequence[float | None], targets: Sequence[Target], playback: bool,
           drawn: Sequence[Path], fault: SweeperError | None) -> None:  # fmt: skip
    from sweeper.cli.answers import error_data, print_json
    from sweeper.cli.show_against import against_data
    from sweeper.cli.show_playback import playback_data

    files = [_data(one, others[i] if others else None) for i, one in enumerate(found)]
    for one, data in zip(found, files, strict=True):
        data.update({"against": against_data(one, targets)} if targets else {})
    for data, levels in zip(files, playback_data(found) if playback else [], strict=False):
        data["playback"] = levels
    for data, path in zip(files, drawn, strict=False):
        data["picture"] = str(path)
    print_json({"schema": 1, "files": files, **({} if fault is None else {"error": error_data(fault)["error"]})})


def _data(one: Measured, other_lufs: float | None) -> dict[str, object]:
    data: dict[str, object] = {
        "file": str(one.file.path), "duration_s": one.file.duration_s, "rate_hz": one.file.format.rate_hz,
        "channels": one.file.format.channels, "measurements": one.measurements.as_data(),
    }  # fmt: skip
    return data if other_lufs is None else {**data, "cross_check_loudness_lufs": other_lufs}
