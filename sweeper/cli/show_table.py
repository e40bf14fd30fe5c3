"""The table of variants on the terminal, made to fit: measurements go first, limits and match gains never."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from sweeper.cli.table_cells import Beside, Shown, file_cells, row_cells
from sweeper.quantities import quantity_of
from sweeper.table.frame import merged
from sweeper.table.row import Row

#: Measurements on the terminal, most useful first; as many as fit. The rest are in table.csv.
SHOWN = ("loudness_lufs", "true_peak_dbtp", "crest_db", "loudness_range_lu", "short_term_max_lufs",
         "plr_db", "correlation", "mono_loss_lu", "overs")  # fmt: skip
ALWAYS = SHOWN[:2]
HEADINGS = {"loudness_lufs": "LUFS", "true_peak_dbtp": "dBTP", "crest_db": "crest dB", "loudness_range_lu": "range LU",
            "short_term_max_lufs": "3 s max", "momentary_max_lufs": "0.4 s max", "sample_peak_dbfs": "peak dBFS",
            "rms_dbfs": "RMS dBFS", "plr_db": "PLR dB", "correlation": "corr", "side_mid_db": "side dB",
            "balance_db": "bal dB", "mono_loss_lu": "mono LU", "overs": "overs",
            "psr_db": "PSR dB", "crest_loud_db": "crest\nloud dB", "over_runs": "runs", "longest_over_ms": "over ms",
            "dc_dbfs": "DC dBFS", "correlation_worst": "worst corr", "tilt_db": "tilt dB",
            "noise_floor_dbfs": "floor dBFS",
            "attenuation_db": "att dB", "attenuation_median_db": "att med", "attenuation_most_db": "att most",
            "attenuation_share_pct": "att %", "residue_db": "residue", "residue_floor_db": "res floor",
            "distortion_pct": "dist %", "distortion_floor_pct": "dist flr", "second_harmonic_db": "H2 dB",
            "third_harmonic_db": "H3 dB"}  # fmt: skip
#: Widths at which settings go on in a second line, where nothing else makes the table fit.
NARROWER = (14, 10, 8, 6)
#: A value of so many characters is not broken, so that a number keeps its unit; a longer word than MOST_WORD is.
SHORT_VALUE, MOST_WORD = 9, 16
LEAST_HEADING = 7


def shown(rows: Sequence[Row], beside: Sequence[Beside], wanted: Sequence[str], margins: bool,
          picked: Sequence[str] = ()) -> Shown:  # fmt: skip
    """Everything that could be shown. wanted: keys that matter here, such as what is preferred or limited.

    What is solved for is never left out, nor the first that is wanted. What mixes have of their own stands behind other
    settings, and goes before them: it is the same in all variants of a mix. margins: a column for each limit.
    """
    reached = [solved.key for row in rows for solved in row.solved]
    always = dict.fromkeys([*ALWAYS, *reached, *wanted[:1]])
    keys = dict.fromkeys([*always, *wanted, *SHOWN])
    limits = dict.fromkeys(verdict.limit for row in rows for verdict in row.verdicts)
    named = merged([list(row.settings) for row in sorted(rows, key=lambda row: row.id)])
    own = dict.fromkeys(name for row in rows for name in row.own)
    settings = [*(name for name in named if name not in own), *(name for name in named if name in own)]
    return Shown(tuple(rows), tuple(beside), tuple(keys), len(always), tuple(settings),
                 tuple(limits) if margins else (), tuple(picked), tuple(wanted))  # fmt: skip


def print_table(console: Console, everything: Shown) -> None:
    """Print as much of it as the console is wide, and say which settings had to be left out."""
    widest = _widest(everything)
    for view in _narrower(everything):
        tried = _table(replace(view, rows=widest))
        if console.measure(tried, options=console.options.update(max_width=1000)).maximum <= console.width:
            break
    console.print(_table(view))
    missing = [*everything.settings[len(view.settings) :],
               *(quantity_of(key).name for key in everything.wanted if key not in view.keys)]  # fmt: skip
    if missing:
        console.print(escape(f"too narrow here for {', '.join(missing)}: table.csv has them"), soft_wrap=True)


def _widest(everything: Shown) -> tuple[Row, ...]:
    """The rows that decide how wide every column is: to lay out a thousand, time and again, takes seconds."""
    rows = everything.rows
    summed = replace(everything, limits=())
    lines = [[*row_cells(everything, row), *row_cells(summed, row)] for row in rows]
    lengths = [list(map(len, column)) for column in zip(*lines, strict=True)]
    lengths += [[_whole(row.settings.get(name, "")) for row in rows] for name in everything.settings]
    chosen = {column.index(max(column)) for column in lengths}
    chosen |= {[row.mix for row in rows].index(mix) for mix in {row.mix for row in rows}}
    return tuple(rows[number] for number in sorted(chosen))


def _narrower(everything: Shown) -> Iterator[Shown]:
    """Views of it, each narrower than the one before; the last one is taken as it is."""
    fewest = everything
    for view in (everything, replace(everything, limits=())) if everything.limits else (everything,):
        for count in range(len(view.keys), view.always - 1, -1):
            yield replace(view, keys=view.keys[:count])
        fewest = replace(view, keys=view.keys[: view.always], headings=True)
        yield fewest
        for width in NARROWER:
            yield (fewest := replace(fewest, width=width))
    last = {*ALWAYS, *everything.wanted[:1], *fewest.missed}
    yield (fewest := replace(fewest, keys=tuple(key for key in fewest.keys if key in last)))
    for count in range(len(everything.settings) - 1, -1, -1):
        yield replace(fewest, settings=everything.settings[:count])


def _table(view: Shown) -> Table:
    gap = 2 if view.width is None else 1
    table = Table(box=None, pad_edge=False, padding=(0, gap, 0, 0), header_style="bold")
    table.add_column("", no_wrap=True, overflow="ellipsis", max_width=16 if view.headings else 24)
    if view.several:
        table.add_column("mix", overflow="ellipsis", no_wrap=True, max_width=18)
    for name in view.settings:
        room = _room(view, name)
        heading = _heading(name, room if view.headings else None)
        table.add_column(escape(heading), justify="right", no_wrap=view.width is None, overflow="fold",
                         max_width=room if view.width else None)  # fmt: skip
    for heading in [*(_key_heading(key) for key in view.keys), *map(_limit_heading, view.limits)]:
        table.add_column(escape(heading), justify="right", no_wrap=True)
    if view.limited and not view.limits:
        table.add_column("limits", no_wrap=True)
    table.add_column("match dB", justify="right", no_wrap=True)
    for row in view.rows:
        table.add_row(*row_cells(view, row))
    for file in view.beside:
        table.add_row(*file_cells(view, file), style="dim")
    return table


def _room(view: Shown, name: str) -> int:
    """How wide a setting's column is: its widest value, or where that is to go on in a second line."""
    values = [row.settings.get(name, "") for row in view.rows]
    widest = max(map(len, values))
    if view.width is not None:
        widest = min(widest, max(view.width, min(MOST_WORD, max(map(_whole, values)))))
    return max(LEAST_HEADING, widest)


def _whole(value: str) -> int:
    """The longest part of a value that stays in one line."""
    return len(value) if len(value) <= SHORT_VALUE else max(map(len, value.split()), default=0)


def _heading(name: str, width: int | None) -> str:
    """stage.setting on two lines, so that columns stay narrow; cut where it may not be wider."""
    stage, _, setting = name.partition(".")
    lines = (stage, setting) if setting else ("", stage)
    return "\n".join(line if width is None or len(line) <= width else f"{line[: width - 1]}…" for line in lines)


def _key_heading(key: str) -> str:
    """A measurement; a stage's with the stage above it."""
    stage, _, own = key.rpartition(".")
    return f"{stage}\n{HEADINGS[own]}" if stage else HEADINGS[key]


def _limit_heading(limit: str) -> str:
    """crest >= 8 dB on two lines."""
    return "\n".join(re.split(r"\s*(?=[<>≤≥])", limit, maxsplit=1))
