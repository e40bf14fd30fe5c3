"""Measurements of files on the terminal."""

from __future__ import annotations

from collections.abc import Sequence

from rich.markup import escape

from sweeper.cli.lines import columns
from sweeper.cli.streams import out
from sweeper.quantities import OF_FILES
from sweeper.render.orders import Measured
from sweeper.units import clock


def show_measured(found: Sequence[Measured], others: Sequence[float | None]) -> None:
    """One column a file, one line a quantity; others: loudness by the independent meter, if it was asked."""
    for at in range(0, len(found), 4):
        _show(found[at : at + 4], others[at : at + 4])


def _show(found: Sequence[Measured], others: Sequence[float | None]) -> None:
    table = columns("")
    for one in found:
        table.add_column(escape(one.file.path.name), justify="right", overflow="fold", max_width=24)
    table.add_row("length, rate, channels", *(_format(one) for one in found))
    for quantity in OF_FILES:
        label = f"{quantity.name} {quantity.unit}".strip()
        table.add_row(escape(label), *(_cell(one, quantity.key, quantity.decimals) for one in found))
    if others:
        table.add_row("loudness LUFS, other meter", *("-" if o is None else f"{o:.2f}" for o in others))
    out().print(table)
    for one in found:
        for reason in dict.fromkeys(one.measurements.reasons.values()):
            keys = [q.name for q in OF_FILES if one.measurements.reasons.get(q.key) == reason]
            words = f"{one.file.path.name}: {', '.join(keys)}: {reason}"
            out().print(escape(words), style="dim", soft_wrap=True)


def _format(one: Measured) -> str:
    return f"{clock(one.file.duration_s)}, {one.file.format.rate_hz} Hz, {one.file.format.channels}"


def _cell(one: Measured, key: str, decimals: int) -> str:
    value = one.measurements.values[key]
    return "-" if value is None else f"{value + 0.0:.{decimals}f}"
