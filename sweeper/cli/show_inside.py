"""What the best variants do to the music, stage by stage, on the terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.console import Console
from rich.markup import escape

from sweeper.cli.lines import columns, say
from sweeper.quantities import BY_KEY, Measurements
from sweeper.table.row import Row

HEADINGS = {"attenuation_db": "att dB", "attenuation_most_db": "most dB", "residue_db": "residue dB",
            "distortion_pct": "dist %", "second_harmonic_db": "H2 dB", "third_harmonic_db": "H3 dB"}  # fmt: skip
#: Of a measurement that is lost in its floor up to so far above it: the floor is what is known.
CLEAR_OF_FLOOR_DB = 3.0
WHOLE = "all"
#: With more lines only the whole chains are shown.
MOST_LINES = 24


def show_inside(console: Console, rows: Sequence[Row]) -> None:
    """A table of the rows that were looked into; nothing where none was."""
    looked = [row for row in rows if row.looked_into]
    if not looked:
        return
    lines = [line for row in looked for line in _lines(row)]
    several = len(lines) > MOST_LINES
    if several:
        lines = [line for line in lines if line[1] in (WHOLE, "")]
    table = columns("")
    table.add_column("")
    for heading in HEADINGS.values():
        table.add_column(heading, justify="right")
    for line in lines:
        table.add_row(*map(escape, line))
    say(console, "\ninside, on the loudest minute: attenuation that 5 % of the time exceeds, and the most; residue; "
        "harmonics of a tone at programme level")  # fmt: skip
    console.print(table)
    if several:
        say(console, "table.csv has every stage")


def _lines(row: Row) -> Iterator[tuple[str, ...]]:
    assert row.measurements is not None
    keys = [key for key in row.measurements.values if key.endswith("residue_floor_db")]
    stages = sorted({key.rpartition(".")[0] for key in keys}, key=lambda name: name != "")
    for number, stage in enumerate(stages):
        before = f"{stage}." if stage else ""
        yield (row.id if number == 0 else "", stage or WHOLE,
               *(_cell(row.measurements, before, key) for key in HEADINGS))  # fmt: skip


def _cell(measurements: Measurements, before: str, key: str) -> str:
    value, decimals = measurements.values.get(before + key), BY_KEY[key].decimals
    if key == "residue_db":
        floor_db = measurements.values.get(f"{before}residue_floor_db")
        if value is not None and floor_db is not None and value < floor_db + CLEAR_OF_FLOOR_DB:
            return f"< {max(value, floor_db):.{decimals}f}"
    if key == "distortion_pct" and not value:
        floor_pct = measurements.values.get(f"{before}distortion_floor_pct")
        return "-" if floor_pct is None else f"< {floor_pct:.{decimals}f}"
    return "-" if value is None else f"{value + 0.0:.{decimals}f}"
