"""What is in an archive, in words and as data."""

from __future__ import annotations

import io
from pathlib import Path

from rich.console import Console

from sweeper.cli import show_archive
from sweeper.recall.archive import Archived
from sweeper.recall.contents import Packed
from sweeper.records.archived import ArchivedFile, Contents

FILES = (ArchivedFile("mix", "/music/mix.wav", "archive/mixes/a-mix.wav", "a" * 64),
         ArchivedFile("mix", "/music/other.wav", "archive/mixes/b-other.wav", "b" * 64),
         ArchivedFile("state", "/x.vstpreset", "states/c.vstpreset"))  # fmt: skip
FOUND = Packed(Path("/results/lantern"), Contents("lantern", "2026", "0.1.0", FILES, ("001", "002"), ("002",)), (),
               notes=("a note",))  # fmt: skip
MADE = Archived(Path("out.zip"), 14, 19_400_000, 20_000_000)
PROOF = {"variant": "002", "verdict": "identical", "identical": True, "null": None, "more": 1}


def test_in_words(monkeypatch):
    console = Console(width=100, record=True, file=io.StringIO(), color_system=None)
    monkeypatch.setattr(show_archive, "out", lambda: console)
    show_archive.show_archive(FOUND, MADE, PROOF)
    lines = console.export_text().splitlines()
    assert lines[0] == "out.zip: 14 files, 19.4 MB; unpacked elsewhere, and every checksum holds"
    assert lines[1:3] == ["  2 recall sheets, the sound of 1", "  2 mixes, 1 state"]
    assert "proven: variant 002 was recalled from it in a fresh process with an empty store: identical" in lines
    assert "note: a note" in lines
    assert lines[-1] == "    sweeper recall lantern/variants/002"


def test_as_data():
    told = show_archive.answer(FOUND, MADE, PROOF)
    assert (told["schema"], told["files"], told["bytes"], told["renders"]) == (1, 14, 19_400_000, ["002"])
    assert told["proof"] == {"variant": "002", "verdict": "identical", "identical": True, "null": None}
    assert told["elsewhere"][0] == {"kind": "mix", "original": "/music/mix.wav", "inside": "archive/mixes/a-mix.wav"}
    assert show_archive.answer(FOUND, MADE, None)["proof"] is None
