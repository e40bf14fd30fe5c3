"""The report, as a client or the engineer opens it."""

from __future__ import annotations

import base64
import json
import re
from html.parser import HTMLParser
from xml.etree import ElementTree

import heard_runs
import pytest

from sweeper.audition.report import write_report
from sweeper.errors import RunFolderError


class Page(HTMLParser):
    """What loads, what is said, and whether every element that is opened is closed."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.sources: list[str] = []
        self.said = ""
        self.tags: set[str] = set()
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.add(tag)
        self.sources += [value for name, value in attrs if name in ("src", "href")]
        if tag not in ("meta", "br", "img", "link"):
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.said += data if "style" not in self.open else ""


@pytest.fixture(scope="module")
def listened(run, tmp_path_factory):
    own = heard_runs.copied(run, tmp_path_factory.mktemp("reported"))
    (own / "audition").mkdir()
    notes = [{"at_s": 62.5, "text": "<b>snare</b> & co"}]
    (own / "audition/notes.json").write_text(json.dumps({
        "schema": 1, "run": "x", "saved": "2026-11-25T10:00:00", "revision": 2,
        "picks": {"003": {"verdict": "keep", "notes": notes}, "001": {"verdict": "drop", "notes": []},
                  "mix-1": {"verdict": "maybe", "notes": []}},
        "trials": [{"a": "003", "b": "002", "right": 9, "of": 12},
                   {"a": "1", "b": "2", "right": 5, "of": 5, "planned": 8}],
        "unfinished": {"1": {"choice": {"a": "002", "b": "001", "right": 3, "answered": 4, "of": 10}}},
        "ranking": {"1": {"order": ["003", "002", "001"], "inconsistent": [["001", "002", "003"]]}},
    }))  # fmt: skip
    return own


def reported(run, target, pool, for_client=False):
    found = write_report(run, target, for_client, pool)
    return found, Page(target.read_text("utf-8"))


@pytest.fixture(scope="module")
def folders(listened, pool, tmp_path_factory):
    return reported(listened, tmp_path_factory.mktemp("folders") / "report.html", pool)


def test_the_folders_report_says_everything(folders):
    found, page = folders
    assert page.open == []
    words = " ".join(page.said.split())
    for said in ("Tin Boats", "keep: 003", "1:02.5 <b>snare</b> & co", "drop: 001",
                 "9 of 12 right; guessing does as well 7.3 % of the time", "ended early, of 8",
                 "the untouched mix (mix-1): rated maybe with names hidden, which is no pick",
                 "a forced choice, 002 or 001, is unfinished: 4 of 10 answered", "003, then 002, then 001",
                 "001 over 002 over 003 over 001: inconsistent", "loudness -10 LUFS: met (+0.00 LU)",
                 "limiter.attenuation <= 3 dB: kept (+0.50 dB)", "ZaMaximX2", "Output Ceiling -1", "Velvet Glue",
                 "old record.wav", "AES TD1008", "BS.1770-5"):  # fmt: skip
        assert said in words, said
    assert "b" not in page.tags, "what somebody wrote is text"
    assert found.drawn == ("variant 003", "mix.wav"), "what is to be kept, and the mix"


def test_nothing_is_loaded_and_every_picture_is_one(folders):
    found, page = folders
    assert all(source.startswith("data:image/svg+xml;base64,") for source in page.sources)
    titles = []
    for source in page.sources:
        drawing = ElementTree.fromstring(base64.b64decode(source.partition(",")[2]))
        titles.append(drawing.findtext("{http://www.w3.org/2000/svg}title") or "")
    assert titles[:2] == ["variant 003", "mix.wav"]
    assert len(titles) == 3, "and what the settings did"
    assert "default-src 'none'" in found.file.read_text()


def test_a_clients_report_tells_nothing_of_how_it_was_made(listened, pool, tmp_path):
    _, page = reported(listened, tmp_path / "report.html", pool, for_client=True)
    text = re.sub(r"base64,[^\"]*", "", (tmp_path / "report.html").read_text("utf-8"))
    drawn = "".join(base64.b64decode(source.partition(",")[2]).decode() for source in page.sources)
    for word in (*heard_runs.PRIVATE, "ZaMaximX2", str(listened), "variants/0"):
        assert not re.search(re.escape(word), text + drawn, re.IGNORECASE), word
    assert "keep: 003" in " ".join(page.said.split())


def test_a_run_that_nobody_heard_and_whose_mix_moved_is_told_all_the_same(run, pool, tmp_path):
    own = heard_runs.copied(run, tmp_path)
    (own.parent / "mix.wav").unlink()
    found, page = reported(own, tmp_path / "report.html", pool)
    assert "Nobody has written down a choice yet." in page.said
    assert found.drawn == ("variant 002", "variant 001", "variant 003"), "best first"


def test_another_file_is_never_overwritten(listened, pool, tmp_path):
    (tmp_path / "mine.html").write_text("mine")
    with pytest.raises(RunFolderError, match="is there already"):
        write_report(listened, tmp_path / "mine.html", False, pool)
    assert (tmp_path / "mine.html").read_text() == "mine"
