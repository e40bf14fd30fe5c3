"""Options that several verbs share."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

json_option = click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of text.")
quiet_option = click.option("--quiet", is_flag=True, help="No progress and no notes on stderr.")
patience_option = click.option(
    "--patience", "patience_s", type=click.FloatRange(0.5, 3600), default=60.0, show_default=True, metavar="SECONDS",
    help="Give up on a plugin that shows no sign of life for so long.",
)  # fmt: skip


def processors() -> int:
    """How many this process may use: fewer than the machine has where it was given to some of them."""
    own = getattr(os, "sched_getaffinity", None)  # not on macOS nor Windows
    return len(own(0)) if own else os.cpu_count() or 1


def workers_option_of(words: str) -> Callable[[Any], Any]:
    """--workers with what is done side by side."""
    return click.option("--workers", type=click.IntRange(1, 60), default=lambda: min(processors(), 60), metavar="N",
                        show_default="one a processor", help=words)  # fmt: skip


workers_option = workers_option_of("How many variants are rendered side by side.")
results_option = click.option(
    "--results", type=click.Path(file_okay=False, path_type=Path), default=Path("results"), show_default=True,
    help="Where the run gets its folder.",
)  # fmt: skip
CHAIN_FILE = click.Path(path_type=Path)
#: A worker without any plugin takes a quarter of this.
LEAST_MEMORY_BYTES = 500 * 10**6


class _Size(click.ParamType[int]):
    """An amount of disk space: "20 GB"."""

    name = "SIZE"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> int:
        """Bytes, or a usage error."""
        from sweeper.errors import SweeperError
        from sweeper.render.store.limit import parse_limit

        try:
            return value if isinstance(value, int) else parse_limit(str(value))
        except SweeperError as exc:
            self.fail(f"{exc.what}; {exc.remedy}", param, ctx)


store_limit_option = click.option(
    "--store-limit", "store_limit_bytes", type=_Size(), default=None,
    help='What rendered steps may take on the disk between runs, e.g. "20 GB"; 0 stores none. '
    "Default: a fifth of the free space.",
)  # fmt: skip


class _Memory(click.ParamType[int]):
    """An amount of memory: "4 GB"."""

    name = "SIZE"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> int:
        """Bytes, or a usage error."""
        from sweeper.render.store.limit import UNITS
        from sweeper.units import parse_amount

        if isinstance(value, int):
            return value
        amount = parse_amount(str(value))
        if amount is None or amount.unit.lower() not in UNITS:
            self.fail(f'"{value}" is no amount of memory; write it like "4 GB" or "800 MB"', param, ctx)
        found = int(amount.value * UNITS[amount.unit.lower()])
        if found < LEAST_MEMORY_BYTES:
            self.fail(f'"{value}" is too little: rendering takes some of it itself; 500 MB is the least', param, ctx)
        return found


memory_limit_option = click.option(
    "--memory-limit", "memory_limit_bytes", type=_Memory(), default=None,
    help='End a worker whose plugins take more memory than this, e.g. "4 GB". '
    "Default: its share of what the machine has, 8 GB at most.",
)  # fmt: skip
CHAIN_OR_RUN = click.Path(path_type=Path)
