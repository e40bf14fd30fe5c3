"""Where the files of an archived run lie now, from its folder and from its chain file."""

from __future__ import annotations

import dataclasses
import json

from sweeper.records.archived import CONTENTS_NAME, ArchivedFile, Contents, contents_of, moved_for, moved_in

CONTENTS = Contents(
    "lantern", "2026-11-24T18:05:09", "0.1.0",
    (ArchivedFile("mix", "/music/lantern/mix.wav", "archive/mixes/a-mix.wav", "a" * 64),
     ArchivedFile("reference", "/music/lantern/../record.wav", "archive/references/record.wav"),
     ArchivedFile("state", "/states/x.vstpreset", "states/b.vstpreset")), ("001",), (), "/music/lantern",
)  # fmt: skip


def unpacked(folder):
    (folder / "archive" / "chain").mkdir(parents=True)
    (folder / CONTENTS_NAME).write_text(json.dumps(dataclasses.asdict(CONTENTS)))
    return folder


def test_it_comes_back_as_it_was_written(tmp_path):
    assert contents_of(unpacked(tmp_path)) == CONTENTS
    assert CONTENTS.mix("a" * 64).inside == "archive/mixes/a-mix.wav"
    assert CONTENTS.mix("b" * 64) is None


def test_paths_of_the_run_and_of_its_chain_file_lead_inside(tmp_path):
    run = unpacked(tmp_path / "run")
    inside = run / "archive" / "mixes" / "a-mix.wav"
    assert moved_in(run)["/music/lantern/mix.wav"] == inside
    moved = moved_for(run / "archive" / "chain" / "lantern.chain.yaml")
    chain = run / "archive" / "chain"
    assert moved[str(chain / "mix.wav")] == inside
    assert moved[str(chain / ".." / "record.wav")] == run / "archive" / "references" / "record.wav"
    assert moved["/states/x.vstpreset"] == run / "states" / "b.vstpreset"


def test_any_other_folder_has_moved_nothing(tmp_path):
    assert contents_of(tmp_path) is None
    assert moved_in(tmp_path) == {}
    assert moved_for(tmp_path / "lantern.chain.yaml") == {}
    (tmp_path / "archive").mkdir()
    (tmp_path / CONTENTS_NAME).write_text("{}")
    assert contents_of(tmp_path) is None
