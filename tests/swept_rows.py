"""Rows of sweeps whose effects are known, as they were planted."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from invented_rows import measured, row

from sweeper.table.row import Row
from sweeper.table.written import WrittenRun

#: A small sweep: three thresholds, two releases, a switch.
AXES = {"glue.Threshold": ("-18 dB", "-15 dB", "-12 dB"), "limiter.Release": ("5 ms", "100 ms"),
        "glue.bypass": ("on", "off")}  # fmt: skip


def swept(axes: Mapping[str, Sequence[str]], crest: Callable[[dict[str, str]], float], **more: object) -> list[Row]:
    """A row for every combination, its crest as the function of its settings says."""
    combinations = [dict(zip(axes, values, strict=True)) for values in itertools.product(*axes.values())]
    return rows_of(combinations, [crest(settings) for settings in combinations], **more)


def rows_of(settings: Sequence[Mapping[str, str]], crests: Sequence[float], **more: object) -> list[Row]:
    """A row for each, 001 on."""
    return [row(f"{number:03d}", measured(crest=crest), **{"settings": dict(chosen), **more})
            for number, (chosen, crest) in enumerate(zip(settings, crests, strict=True), 1)]  # fmt: skip


def run_of(rows: Sequence[Row], asked: int | None = None) -> WrittenRun:
    """A finished run with these rows."""
    return WrittenRun(Path("results/tin-boats"), "Tin Boats", "finished", "", asked or len(rows), tuple(rows), (), ())
