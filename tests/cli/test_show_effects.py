"""Effects on the terminal."""

from __future__ import annotations

import io

from rich.console import Console
from swept_rows import AXES, rows_of, run_of, swept

from sweeper.cli.show_effects import show_effects
from sweeper.table.effects import effects


def printed(rows, width=100, names=(), **more):
    stream = io.StringIO()
    show_effects(effects(run_of(rows), names), Console(file=stream, width=width), **more)
    return stream.getvalue()


def crest(settings):
    return 9.0 - (settings["glue.bypass"] == "on") + 0.2 * (settings["limiter.Release"] == "5 ms")


def test_a_row_a_setting_with_its_values_below_it():
    lines = printed(swept(AXES, crest)).splitlines()
    assert lines[0] == "Tin Boats: what 3 settings did in 12 variants"
    assert lines[2].split() == ["crest", "dB"]
    at = next(number for number, line in enumerate(lines) if line.startswith("glue.bypass"))
    assert lines[at].split() == ["glue.bypass", "-1.00", "±", "0.00"]
    assert lines[at + 1].split()[:3] == ["off", "→", "on"]
    assert lines[at + 1].split()[3].isdigit()
    assert lines[at + 2].split() == ["acting", "together", "0", "%"]


def test_the_two_values_are_named_where_the_setting_has_no_order():
    rows = swept({"colour": ("Valve", "Iron", "Tape"), "b.c": ("1 dB", "2 dB")},
                 lambda s: {"Valve": 9.0, "Iron": 7.0, "Tape": 8.0}[s["colour"]])  # fmt: skip
    out = printed(rows)
    assert "3 values" in out
    assert "+2.00 ± 0.00" in out
    assert "Iron → Valve" in out


def test_what_has_no_room_beside_stands_below():
    names = ("crest", "plr", "loudness", "true peak", "loudness range")
    wide, narrow = (printed(swept(AXES, crest), width, names) for width in (140, 60))
    assert wide.count("glue.Threshold ") == 1
    assert narrow.count("glue.Threshold ") > 1
    assert max(map(len, narrow.splitlines())) <= 60


def test_a_picture_is_offered_unless_it_is_made():
    rows = swept(AXES, crest)
    assert "--plot FILE.svg draws it" in " ".join(printed(rows).split())
    assert "--plot" not in printed(rows, drawn=True)


def test_names_are_no_markup():
    rows = rows_of([{"[red]a.b": "[1]"}, {"[red]a.b": "[/dim]"}], [9.0, 8.0])
    assert "[red]a.b" in printed(rows)
    assert "[1] → [/dim]" in printed(rows)
