"""Whole pages: well-formed, the same twice, nothing outside, small, for every kind of file."""

from __future__ import annotations

from collections import defaultdict
from itertools import pairwise

import numpy as np
import pytest
from drawn import SVG, hour_long, parsed, part, subject, words
from signals import noise, programme, silence, sine

from sweeper.pictures import picture
from sweeper.quantities import BY_KEY

LONG = 'a "long" <name> & more, of the twelfth revision of a mix that nobody could leave alone, 終わり.wav'
MANY = {f"part {n}": ((n * 4800, n * 4800 + 4800),) for n in range(40)}


def hour():
    """An hour whose every column differs, each with overs."""
    powers = np.random.default_rng(1).uniform(1e-6, 0.1, 35997)
    short = subject(noise(1.0, 8000, channels=1), 8000, {"first": ((0, 8000 * 1800),)}, -23.0)
    return hour_long(short, powers)


SUBJECTS = {
    "music": lambda: subject(programme(4.0), target_lufs=-14.0, sections={"verse": ((0, 96000),)}),
    "many sections": lambda: subject(noise(4.0), sections=MANY, target_lufs=-70.0),
    "long name": lambda: subject(noise(0.5), name=LONG, target_lufs=10.0),
    "unprintable name": lambda: subject(noise(0.5), name="a\x01b\udcff\n.wav"),
    "silence": lambda: subject(silence(4.0)),
    "one second, mono": lambda: subject(noise(1.0, channels=1)),
    "one block": lambda: subject(sine(-20.0, 0.4)),
    "shorter than a block": lambda: subject(noise(0.05)),
    "one frame": lambda: subject(np.full((2, 1), 0.5)),
    "over full scale": lambda: subject(noise(1.0, level_dbfs=12.0)),
    "six channels": lambda: subject(noise(3.5, channels=6)),
    "four channels, no weights": lambda: subject(noise(0.6, channels=4)),
    "hour": hour,
}


@pytest.fixture(scope="module", params=SUBJECTS)
def page(request):
    """A subject and its picture."""
    shown = SUBJECTS[request.param]()
    return shown, picture(shown)


def test_it_is_xml_and_the_same_twice(page):
    shown, text = page
    assert parsed(text).tag == f"{SVG}svg"
    assert picture(shown) == text
    assert "nan" not in text
    assert "inf" not in text.replace("infinity", "")


def test_every_label_lies_inside_the_page(page):
    # 0.65 of the letter size is more than a letter of usual sans-serif fonts takes on average; Han take a whole one
    for text in parsed(page[1]).iter(f"{SVG}text"):
        x, y, size = float(text.get("x")), float(text.get("y")), float(text.get("font-size"))
        width = size * sum(1.0 if letter > "\u2fff" else 0.65 for letter in text.text)
        left = x - width * {"end": 1.0, "middle": 0.5}.get(text.get("text-anchor"), 0.0)
        assert left >= 0, text.text
        assert left + width <= 1200, text.text
        assert size <= y <= 900 - 0.3 * size, text.text


def test_labels_of_a_row_do_not_run_into_each_other(page):
    rows = defaultdict(list)
    for text in parsed(page[1]).iter(f"{SVG}text"):
        if text.get("text-anchor") is None and text.text:
            x, width = float(text.get("x")), 0.5 * float(text.get("font-size")) * len(text.text)
            rows[text.get("y")].append((x, x + width, text.text))
    for row in rows.values():
        for (_, end, _), (begin, _, what) in pairwise(sorted(row)):
            assert begin >= end, what


def test_every_mark_lies_inside_the_page(page):
    for box in parsed(page[1]).iter(f"{SVG}rect"):
        left, top, width, height = (float(box.get(key)) for key in ("x", "y", "width", "height"))
        assert min(left, top, width, height) >= 0
        assert (left + width <= 1200, top + height <= 900) == (True, True)


def test_the_picture_is_small(page):
    assert len(page[1].encode()) < 400_000


def test_every_figure_is_the_meters(page):
    shown, text = page
    seen = words(part(parsed(text), "headline"))
    for key in ("loudness_lufs", "true_peak_dbtp", "loudness_range_lu", "crest_db", "plr_db", "overs"):
        quantity, value = BY_KEY[key], shown.measurements[key]
        after = seen[seen.index(quantity.name) + 1]
        if value is None:
            assert after == "–"
        else:
            read = float(after.replace("−", "-").replace(",", ""))
            assert read == pytest.approx(value, abs=0.501 * 10**-quantity.decimals)


def test_where_there_is_no_loudness_the_chart_says_why():
    for name, why in (("silence", "nothing is louder than -70 LUFS"), ("one frame", "shorter than 400 ms"),
                      ("four channels, no weights", "no loudness weights are defined for 4 channels")):  # fmt: skip
        tree = parsed(picture(SUBJECTS[name]()))
        assert why in words(part(tree, "loudness")), name
        assert why in words(part(tree, "distribution")), name
    assert "digital silence" in words(part(parsed(picture(SUBJECTS["silence"]())), "spectrum"))
