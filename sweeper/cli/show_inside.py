"""What the best variants do to the music, stage by stage, on the terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from sweeper.cli.lines import columns, say
from sweeper.cli.streams import out
from sweeper.meter.quiet_copy import CLEAR_OF_FLOOR_DB
from sweeper.quantities import BY_KEY, Measurements
from sweeper.render.finalists import with_inside
from sweeper.render.inside import Inside
from sweeper.table.row import Row
from sweeper.units import clock

HEADINGS = {"attenuation_db": "att dB", "attenuation_most_db": "most dB", "residue_db": "residue dB",
            "distortion_pct": "dist %", "second_harmonic_db": "H2 dB", "third_harmonic_db": "H3 dB"}  # fmt: skip
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
        lines = [line for line in lines if line[1] == WHOLE]
    say(console, "\ninside, on the loudest minute: attenuation that 5 % of the time exceeds, and the most; residue; "
        "harmonics of a tone at programme level")  # fmt: skip
    if lines:
        console.print(_table(lines))
    if several:
        say(console, "table.csv has every stage")


def show_one(inside: Inside) -> None:
    """What was found in one chain, with where it was found and all that is to be said of it, on stdout."""
    console = out()
    say(console, f"{clock(inside.from_s)}-{clock(inside.to_s)} of the mix: attenuation that 5 % of the loudest 30 s "
        "exceeds, and the most; residue; harmonics of a tone")  # fmt: skip
    console.print(_table([line[1:] for line in _of(with_inside(Measurements({}), inside))]))
    for seen in inside.seen:
        level = "nothing comes in" if seen.level_dbfs is None else f"gets {seen.level_dbfs:.1f} dBFS RMS"
        tone = f", the tone {seen.tone.tone_hz} Hz at {seen.tone_dbfs:.1f} dBFS" if seen.tone else ""
        say(console, f"{seen.name or WHOLE}: {level}{tone}{''.join(f'; {one}' for one in seen.remarks)}")
    for note in inside.notes:
        say(console, f"note: {note}")


def _table(lines: Sequence[Sequence[str]]) -> Table:
    names = len(lines[0]) - len(HEADINGS)
    table = columns(*[""] * names, *HEADINGS.values(), right=tuple(range(names, names + len(HEADINGS))))
    for line in lines:
        table.add_row(*map(escape, line))
    return table


def _lines(row: Row) -> Iterator[tuple[str, ...]]:
    assert row.measurements is not None
    for number, (_, *cells) in enumerate(_of(row.measurements)):
        yield (row.id if number == 0 else "", *cells)


def _of(measurements: Measurements) -> Iterator[tuple[str, ...]]:
    """"", the stage, and its cells; the whole chain first."""
    keys = [key for key in measurements.values if key.endswith("residue_floor_db")]
    stages = sorted(dict.fromkeys(key.rpartition(".")[0] for key in keys), key=lambda name: name != "")
    for stage in stages:
        before = f"{stage}." if stage else ""
        yield ("", stage or WHOLE, *(_cell(measurements, before, key) for key in HEADINGS))


def _cell(measurements: Measurements, before: str, key: str) -> str:
    value, decimals = measurements.values.get(before + key), BY_KEY[key].decimals
    if key == "residue_db":
        floor_db = measurements.values.get(f"{before}residue_floor_db")
        if value is not None and floor_db is not None and value < floor_db + CLEAR_OF_FLOOR_DB:
            return f"< {max(value, floor_db):.{decimals}f}"
    if key == "distortion_pct" and not value:
        floor_pct = measurements.values.get(f"{before}distortion_floor_pct")
        return "-" if floor_pct is None else f"< {max(floor_pct, 10.0**-decimals):.{decimals}f}"
    return "-" if value is None else f"{value + 0.0:.{decimals}f}"
