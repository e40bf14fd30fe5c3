"""The page of effects: well-formed, the same twice, nothing outside, nothing that runs into its neighbour."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from drawn import SVG, parsed, words
from swept_rows import AXES, run_of, swept

from sweeper.pictures.effects import Cell, Column, Dot, Setting, Share, Sheet, effects_picture
from sweeper.pictures.svg import text_width_px
from sweeper.table.effects import effects
from sweeper.table.effects.drawn import drawn

COLUMN = Column("crest", "dB", 2, 9.0, "12 % settings acting together")
CELL = Cell((Dot(9.5, 0.2), None, Dot(8.5, None)), "\u22121.00 dB ± 0.30", True, Share(0.62, 0.4, 0.8))
LONG = "a setting of <some> & \x01 plugin whose maker could not be brief.And a control likewise"


def sheet(columns=1, name="glue.Threshold", cell=CELL, lines=("-18 dB", "-15 dB", "-12 dB")):
    setting = Setting(name, lines, True, (cell,) * columns)
    return Sheet("Tin Boats", "What each setting did", (COLUMN,) * columns, (setting,) * 3, ("How to read it.",) * 2)


SHEETS = {
    "one": sheet(),
    "nine measurements": sheet(9),
    "long names": replace(sheet(2, LONG, lines=(LONG,) * 3), title=LONG * 3, subtitle=LONG * 3, notes=(LONG * 9,)),
    "nothing to tell": sheet(2, cell=Cell((None,) * 3, "", why="these variants do not tell it apart from " + LONG)),
    "all the same": sheet(cell=Cell((Dot(9.0, None),) * 3, "0.00 dB")),
    "wild intervals": sheet(cell=Cell((Dot(9.0, 1e9), Dot(9.1, 1e9), None), "0.10 dB ± 1000000000.00", False)),
    "tiny numbers": sheet(cell=Cell((Dot(9.0, 1e-13), Dot(9.0 + 1e-12, 1e-13), None), "0.00 dB ± 0.00")),
    "huge numbers": sheet(cell=Cell((Dot(9.0e8, 1e7), Dot(1.0, 1e7), None), "+900,000,000")),
}  # fmt: skip


@pytest.mark.parametrize("shown", SHEETS.values(), ids=SHEETS)
def test_every_page_is_sound(shown):
    text = effects_picture(shown)
    page = parsed(text)
    assert effects_picture(shown) == text
    assert "nan" not in text
    width, height = float(page.get("width")), float(page.get("height"))
    for mark in page.iter(f"{SVG}text"):
        x, y, size = float(mark.get("x")), float(mark.get("y")), int(mark.get("font-size"))
        wide = text_width_px(mark.text or "", size)
        left = x - wide * {"end": 1.0, "middle": 0.5}.get(mark.get("text-anchor"), 0.0)
        assert left >= 0, mark.text
        assert left + wide <= width, mark.text
        assert size <= y <= height, mark.text
    for circle in page.iter(f"{SVG}circle"):
        assert 0 <= float(circle.get("cx")) <= width


def test_more_than_four_measurements_stand_in_bands():
    five, four = parsed(effects_picture(sheet(5))), parsed(effects_picture(sheet(4)))
    assert five.get("width") == four.get("width")
    assert float(five.get("height")) > 1.5 * float(four.get("height"))
    assert [group.get("id") for group in five.iter(f"{SVG}g")] == ["headline", "band 1", "band 2", "notes"]


def test_numbers_are_to_be_read():
    seen = words(parsed(effects_picture(sheet())))
    for number in ("crest", "dB", "\u22121.00 dB ± 0.30", "62 %", "9.50", "8.50", "-18 dB"):
        assert number in seen


def test_a_dot_stands_where_its_mean_is_and_its_interval_around_it():
    page = parsed(effects_picture(sheet()))
    first, second = itertools.islice(((float(c.get("cx")), c.get("cy")) for c in page.iter(f"{SVG}circle")), 2)
    ends = next((float(one.get("x1")), float(one.get("x2"))) for one in page.iter(f"{SVG}line")
                if one.get("y1") == one.get("y2") == first[1])  # fmt: skip
    assert second[0] < first[0]
    assert sum(ends) / 2 == pytest.approx(first[0], abs=0.1)
    assert (ends[1] - ends[0]) / (first[0] - second[0]) == pytest.approx(0.4, abs=0.01)  # 2 x 0.2 dB of 1 dB


def test_a_run_is_drawn():
    rows = swept(AXES, lambda s: 9.0 - (s["glue.bypass"] == "on") + 0.2 * (s["limiter.Release"] == "5 ms"))
    page = parsed(effects_picture(drawn(effects(run_of(rows)))))
    seen = words(page)
    assert seen[:2] == ["Tin Boats", "What each setting did, in 12 variants"]
    for text in (*AXES, "\u22121.00 dB ± 0.00", "\u22120.20 dB ± 0.00", "0.00 dB ± 0.00", "-18 dB", "off"):
        assert text in seen
