"""The recall sheet for people: every setting as text, and nothing that a text could do to the page."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest
from recall_sheets import LIMITER, RELEASE, SHEET, THRESHOLD

from sweeper.errors import RunFolderError
from sweeper.meter.quiet_copy import Explained
from sweeper.recall.find import Found
from sweeper.recall.page import page, plates, write_page
from sweeper.records import HandleRecord, RideRecord
from sweeper.render.inside import Inside, Seen


class Text(HTMLParser):
    """The words of a page, and its elements: all that are opened are closed in order."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.open: list[str] = []
        self.elements: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.elements.append(tag)
        if tag not in ("meta", "br"):
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if "style" not in self.open:
            self.words += data.split()


@pytest.fixture
def found(tmp_path):
    place = tmp_path / "run" / "variants" / "004" / "recall.json"
    place.parent.mkdir(parents=True)
    limiter = replace(LIMITER, handles=(HandleRecord("drive", "lower", "Threshold"),), blend=0.7, tail_s=1.5, rides=(
        RideRecord("last-lift", "Threshold", "", "-1 dB", True, -0.02, ((60.0, 80.0),), 0.5),))  # fmt: skip
    sides = tuple(replace(THRESHOLD, side=side, text=text) for side, text in (("mid", "-3.00"), ("side", "-4.00")))
    eq = replace(LIMITER, name="eq", plugin="<b>EQ</b>", channels="mid/side", settings=sides, output=False,
                 standing=(replace(RELEASE, side="mid"), replace(RELEASE, side="side", text="30 ms")))  # fmt: skip
    off = replace(LIMITER, name="off", bypass=True, settings=(), standing=())
    reach = ({"measurement": "loudness_lufs", "goal": -10.0, "value": -10.02, "ending": "on target", "why": None,
              "setting": "limiter.Threshold", "at": -7.0961, "unit": "dB"},)  # fmt: skip
    measurements = {"loudness_lufs": -10.02, "true_peak_dbtp": None, "crest_db": 9.456, "eq.attenuation_db": 1.234,
                    "reasons": {"true_peak_dbtp": "silence"}}  # fmt: skip
    sheet = replace(SHEET, title="Lantern & <Bay>", stages=(eq, off, limiter), reach=reach, measurements=measurements,
                    change="loudness -0.5 LU by drive")  # fmt: skip
    place.write_text(json.dumps(sheet.as_data()))
    (tmp_path / "run" / "audition").mkdir()
    (tmp_path / "run" / "audition" / "notes.json").write_text(json.dumps({"picks": {"004": {
        "verdict": "keep", "notes": [{"at_s": 65.0, "text": "<script>alert(1)</script> bright"}]}}}))  # fmt: skip
    (tmp_path / "run" / "prints" / "disc").mkdir(parents=True)
    (tmp_path / "run" / "prints" / "disc" / "print.json").write_text(json.dumps(
        {"variant": "004", "files": [{"file": "01 lantern.wav"}]}))  # fmt: skip
    return Found(sheet, place, None)


def test_everything_of_the_sheet_is_on_it(found):
    words = " ".join(Text(page(found)).words)
    for expected in (
        "Lantern & <Bay>", "variant 004, made 2026-11-24 18:05, revision: loudness -0.5 LU by drive",
        "eq <b>EQ</b>", "mid side Threshold -3.00 -7.1 dB -4.00 -7.1 dB", "Release 25.000000 / 30 ms", "bypassed",
        "Threshold drive -7.096188 -7.1 dB", "blend 70 %", "tail 1.5 s", "output trim -0.35 dB",
        "ride last-lift: Threshold by -1 dB in 1:00.0 to 1:20.0, ramp 500 ms", "Output Ceiling -1.000001",
        "loudness -10.02 LUFS", "true peak - silence", "crest 9.46 dB", "eq.attenuation 1.23 dB",
        "loudness -10 LUFS: -10.02 LUFS, on target; limiter.Threshold at -7.096 dB",
        "keep 1:05.0 <script>alert(1)</script> bright", "printed 01 lantern.wav", "a note", SHEET.id, "sweeper 0.1.0",
    ):  # fmt: skip
        assert expected in words, expected


def test_what_the_run_found_inside_the_stages_is_among_the_meters(found):
    seen = Seen(2, "limiter", -12.0, None, Explained(-40.0, -120.0, 2.36, 1.0, 4.5, 0.3), None)
    inside = Inside(0.0, 60.0, (seen,), (), 1.0, 1.0)
    found.place.with_name("inside.json").write_text(json.dumps(inside.as_data()))
    words = " ".join(Text(page(found)).words)
    assert "limiter.attenuation 2.36 dB" in words
    assert "limiter.residue -40.0 dB" in words


def test_the_chain_stands_in_order_with_bypassed_stages(found):
    assert [(p.number, p.name, p.place, p.bypass) for p in plates(found.sheet)] == [
        (1, "eq", "insert", False), (2, "off", "output", True), (3, "limiter", "output", False)]  # fmt: skip


def test_nothing_of_it_runs_or_is_fetched(found):
    html = page(found)
    told = Text(html)
    assert told.open == []
    assert not {"script", "img", "link", "iframe"} & set(told.elements)
    assert not re.search(r"https?:|url\(|@import", html)
    assert "default-src 'none'" in html
    assert "@media print" in html


def test_it_is_never_written_over_another_file(found, tmp_path):
    target = tmp_path / "page.html"
    assert write_page(found, target).read_text("utf-8") == page(found)
    with pytest.raises(RunFolderError, match="is there already"):
        write_page(found, target)


def test_a_sheet_of_which_nothing_was_noted_has_no_such_part(found):
    import shutil

    shutil.rmtree(found.run / "audition")
    assert "Picks and notes" not in page(found)
