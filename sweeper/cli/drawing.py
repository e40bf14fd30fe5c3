"""The options of `measure` that draw: what they may be, and the pictures written."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from sweeper.render.plotting import PlotOrder, Plotted

PLACEHOLDER = "{name}"
LOWEST_LUFS, HIGHEST_LUFS = -70.0, 10.0
FORGIVEN_S = 0.5


@dataclass(frozen=True)
class Stretch:
    """A section as it was asked for; end_s is after start_s."""

    name: str
    start_s: float
    end_s: float


class SectionType(click.ParamType[Stretch]):
    """A named stretch: "chorus=0:40-1:00"."""

    name = "NAME=FROM-TO"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> Stretch:
        """A stretch, or a usage error."""
        from sweeper.units import parse_time_s, plain

        if isinstance(value, Stretch):
            return value
        name, _, times = plain(str(value)).rpartition("=")
        start_s, end_s = (parse_time_s(part) for part in (*times.split("-"), "", "")[:2])
        if not name.strip() or times.count("-") != 1 or start_s is None or end_s is None:
            self.fail(f"{value!r} is no section; write it like chorus=0:40-1:00", param, ctx)
        if end_s <= start_s:
            self.fail(f"section {name.strip()!r} ends before it begins", param, ctx)
        return Stretch(name.strip(), start_s, end_s)


class TargetType(click.ParamType[float]):
    """An integrated loudness: "-14 LUFS"."""

    name = "LUFS"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """LUFS, or a usage error."""
        from sweeper.units import parse_amount, same_unit

        if isinstance(value, float):
            return value
        amount = parse_amount(str(value))
        found = None if amount is None else same_unit(amount, "LUFS")
        if found is None or not LOWEST_LUFS <= found <= HIGHEST_LUFS:
            self.fail(f'{value!r} is no loudness from -70 to 10 LUFS; write it like "-14 LUFS"', param, ctx)
        return found


plot_option = click.option(
    "--plot", "pattern", metavar="OUT.SVG",
    help="Draw each file on a page; {name} stands for the file's name. Never over an existing file.",
)  # fmt: skip
target_option = click.option("--target", "target_lufs", type=TargetType(),
                             help='A loudness to hold the picture against, e.g. "-14 LUFS".')  # fmt: skip
section_option = click.option(
    "--section", "sections", type=SectionType(), multiple=True,
    help="A part to shade, name and measure in the picture, e.g. chorus=0:40-1:00; may be given again.",
)  # fmt: skip


def places(pattern: str, files: Sequence[Path]) -> list[Path]:
    """Where the picture of each file goes. Raises UsageError for another ending, no folder, what is there already."""
    if not pattern.lower().endswith(".svg"):
        raise click.UsageError(f"--plot {pattern}: pictures are SVG; name a file that ends in .svg")
    if len(files) > 1 and PLACEHOLDER not in pattern:
        raise click.UsageError(f"--plot {pattern} is one picture for {len(files)} files; write {PLACEHOLDER} in it, "
                               f'e.g. --plot "{PLACEHOLDER}.svg"')  # fmt: skip
    found = [Path(pattern.replace(PLACEHOLDER, file.stem)) for file in files]
    folded = [str(path).casefold() for path in found]
    for path in found:
        if folded.count(str(path).casefold()) > 1:
            raise click.UsageError(f"{path} would be the picture of two files; measure them one by one")
        if not path.parent.is_dir():
            raise click.UsageError(f"there is no folder {path.parent} for {path.name}; make it first")
        if path.exists():
            raise click.UsageError(f"{path} is there already; name another file with --plot")
    return found


def plot_orders(files: Sequence[Path], stretches: Sequence[Stretch]) -> list[PlotOrder]:
    """What workers are to measure. Raises AudioFileError, or UsageError for a section that is not in its file."""
    from sweeper.audio import inspect
    from sweeper.pictures import COLUMNS
    from sweeper.render.plotting import PlotOrder
    from sweeper.units import clock

    orders = []
    for path in files:
        file = inspect(path)
        ranges: dict[str, tuple[tuple[int, int], ...]] = {}
        for one in stretches:
            if one.start_s >= file.duration_s or one.end_s > file.duration_s + FORGIVEN_S:
                raise click.UsageError(f"section {one.name!r} ends at {clock(one.end_s)}, "
                                       f"but {path} lasts {clock(file.duration_s)}")  # fmt: skip
            rate = file.format.rate_hz
            ranges[one.name] = (*ranges.get(one.name, ()), (round(one.start_s * rate), round(one.end_s * rate)))
        orders.append(PlotOrder(path, ranges, COLUMNS))
    return orders


def draw(
    plots: Sequence[Plotted], orders: Sequence[PlotOrder], targets: Sequence[Path], target_lufs: float | None
) -> Iterator[Path]:
    """Write the picture of each file, and yield its place; nothing is written before the first is asked for.

    Raises RunFolderError where one cannot be written, or has come meanwhile.
    """
    from sweeper.audio.placing import place_text
    from sweeper.pictures import Subject, picture

    for one, order, target in zip(plots, orders, targets, strict=True):
        subject = Subject(one.measured.file, one.measured.measurements, one.curves, order.sections, target_lufs)
        place_text(target, picture(subject), "name another file with --plot")
        yield target
