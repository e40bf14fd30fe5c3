"""A run that is gone on with: what it was begun with, what has changed since, what of it is finished."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from planning import FACTS, grid
from recall_sheets import SHEET

from sweeper.chain import load_chain
from sweeper.errors import RunFolderError, SheetError
from sweeper.plan.examined import Examined
from sweeper.plan.exploration import Exploration
from sweeper.plan.tree import variant_key
from sweeper.records import SHEET_NAME
from sweeper.render.folder import RUN_NAME, RunFolder
from sweeper.table.begun import (
    NOT_KEPT_NAME,
    Begun,
    edited_since,
    explored_before,
    facts_data,
    finished,
    read_begun,
    refuse_changes,
    refuse_more,
)

NOW = datetime(2026, 11, 24, 18, 5, 9)
FOUND = grid([1, 2])
SOLVED = {"measurement": "loudness_lufs", "goal": -10.0, "value": -10.02, "ending": "on target", "why": None,
          "setting": "limiter.Threshold", "at": -7.1, "unit": "dB", "passes": 3, "slope": None}  # fmt: skip


@pytest.fixture
def folder(tmp_path: Path) -> RunFolder:
    return RunFolder.create(tmp_path / "results", "test", NOW)


@pytest.fixture
def chain(tmp_path: Path):
    (tmp_path / "a.wav").write_bytes(b"")
    (tmp_path / "c.yaml").write_text('mix: a.wav\ninserts: [{name: a, plugin: "builtin:Gain"}]\n')
    return load_chain(tmp_path / "c.yaml")


def asked(**more: object) -> dict[str, object]:
    """run.json of a run of FOUND."""
    return {"started": NOW.astimezone().isoformat(), "chain_file": "/music/c.yaml", "chain": "mix: a.wav",
            "facts": facts_data(FACTS), "variants": [{"id": v.id, "key": variant_key(v, FACTS)} for v in FOUND],
            **more}  # fmt: skip


def begun(folder: RunFolder, **more: object):
    folder.write_json(RUN_NAME, asked(**more))
    return read_begun(folder)


def test_it_was_begun_when_and_with_what_run_json_says(folder):
    found = begun(folder)
    assert (found.started, found.chain_file, found.text) == (NOW, Path("/music/c.yaml"), "mix: a.wav")


@pytest.mark.parametrize("broken", [{"started": "yesterday"}, {"facts": {}}, {"variants": [{"id": "001"}]},
                                    {"chain_file": None}, {"variants": 3}])  # fmt: skip
def test_a_run_json_that_does_not_say_it_is_an_error_with_its_place(folder, broken):
    with pytest.raises(RunFolderError, match=RUN_NAME) as told:
        begun(folder, **broken)
    assert "start a new run" in told.value.remedy


@pytest.mark.parametrize("content", [None, b"", b"[]", b"\xff\xfe"])
def test_nor_does_one_that_is_no_json_or_not_there(folder, content):
    if content is not None:
        (folder.path / RUN_NAME).write_bytes(content)
    with pytest.raises(RunFolderError, match=RUN_NAME):
        read_begun(folder)


def changes(folder, chain, found=FOUND, facts=FACTS) -> str:
    """What the refusal says of now, "" for none."""
    try:
        refuse_changes(begun(folder), chain, found, facts)
    except RunFolderError as refused:
        assert "/music/c.yaml" in refused.remedy
        return refused.what.removeprefix("since this run was begun this has changed: ")
    return ""


def test_what_is_as_it_was_is_gone_on_with(folder, chain):
    assert changes(folder, chain) == ""


def test_everything_that_has_changed_is_named(folder, chain):
    assert changes(folder, chain, facts=replace(FACTS, sources=("another",))) == "the mix a.wav"
    newer = {**FACTS.programs, "a.vst3": "a newer build", "b.vst3": "a newer build"}
    assert changes(folder, chain, facts=replace(FACTS, programs=newer)) == "the plugin a.vst3; the plugin b.vst3"
    without = {name: told for name, told in FACTS.states.items() if name != "other.vstpreset"}
    assert changes(folder, chain, facts=replace(FACTS, states=without)) == "the state file other.vstpreset"
    assert changes(folder, chain, facts=replace(FACTS, states={**FACTS.states, "new": "x"})) == "the state file new"


def test_variants_that_came_out_otherwise_are_a_change_of_ours(folder, chain):
    ours = "what sweeper makes of the chain file"
    assert changes(folder, chain, facts=replace(FACTS, sound_version=2)) == ours
    assert changes(folder, chain, found=FOUND[:1]) == ours
    assert changes(folder, chain, found=[replace(FOUND[0], stages=FOUND[1].stages), FOUND[1]]) == ours


def rendered(folder: RunFolder, id: str, *files: str) -> Path:
    """The place of a variant with a sheet and empty files."""
    place = folder.variant(id)
    sheet = replace(SHEET, variant=id, reach=(SOLVED,))
    (place / SHEET_NAME).write_text(json.dumps(sheet.as_data()))
    for name in files:
        (place / name).write_bytes(b"")
    return place


def test_finished_is_what_has_its_sheet_and_its_sound_or_a_note_that_it_was_not_kept(folder):
    found = grid([1, 5])
    rendered(folder, found[0].id, "render.wav")
    rendered(folder, found[1].id, NOT_KEPT_NAME)
    rendered(folder, found[2].id)
    rendered(folder, found[3].id, "render.wav")
    (folder.variant(found[3].id) / SHEET_NAME).unlink()
    done = finished(folder, found)
    assert list(done) == [found[0].id, found[1].id]
    assert done[found[0].id].measurements["loudness_lufs"] == SHEET.measurements["loudness_lufs"]
    assert [(s.setting, s.at) for s in done[found[0].id].solved] == [("limiter.Threshold", -7.1)]


def test_a_sheet_that_was_altered_is_named(folder):
    place = rendered(folder, FOUND[0].id, "render.wav")
    data = json.loads((place / SHEET_NAME).read_text())
    (place / SHEET_NAME).write_text(json.dumps({**data, "passes": "three"}))
    with pytest.raises(SheetError, match=re.escape(str(place / SHEET_NAME))):
        finished(folder, FOUND)


@pytest.mark.parametrize("content", [b"{half a she", b"\xff\xfe", b"[]"])
def test_a_sheet_that_cannot_be_read_at_all_is_named_with_the_way_out(folder, content):
    place = rendered(folder, FOUND[0].id, "render.wav")
    (place / SHEET_NAME).write_bytes(content)
    with pytest.raises(SheetError, match=re.escape(str(place / SHEET_NAME))):
        finished(folder, FOUND)


def test_an_edited_chain_file_is_said_and_one_that_only_ends_its_lines_otherwise_is_not(folder, tmp_path):
    """A run goes on with its own copy; who edited the file must not take the masters for what it says now."""
    file = tmp_path / "lantern.chain.yaml"
    before = Begun(datetime(2026, 11, 24), file, "reach: -12\n", {})
    for same in (b"reach: -12\n", b"\xef\xbb\xbfreach: -12\r\n"):
        file.write_bytes(same)
        assert edited_since(before) == ()
    file.write_text("reach: -11\n")
    (told,) = edited_since(before)
    assert "lantern.chain.yaml was edited since this run was begun" in told
    assert f"sweeper run {file}" in told
    file.unlink()
    assert edited_since(before) == ()


EXPLORED = """mix: a.wav
inserts: [{name: a, plugin: Gain}]
vary: {a.Gain: {from: 0 dB, to: 6 dB}}
prefer: [crest highest]
explore: {variants: 4}
"""


@pytest.fixture
def exploring(tmp_path: Path):
    """The chain of an exploration, and what is known of its plugins."""
    (tmp_path / "a.wav").write_bytes(b"")
    (tmp_path / "c.yaml").write_text(EXPLORED)
    return load_chain(tmp_path / "c.yaml"), Examined({("a", ""): "a.vst3"})


def test_an_exploration_is_gone_on_with_from_what_run_json_says(folder, exploring):
    first = Exploration(*exploring)
    first.next({})
    found = begun(folder, explore=first.as_data(), state="running")
    again = explored_before(found, *exploring, FACTS)
    assert again is not None
    assert (again.found, again.most) == (first.found, 4)
    more = explored_before(found, *exploring, FACTS, more=3)
    assert more is not None
    assert more.most == 7


def test_a_run_of_every_combination_is_no_exploration(folder, chain):
    assert explored_before(begun(folder), chain, Examined({("a", ""): "builtin:Gain"}), FACTS) is None


@pytest.mark.parametrize("data", [None, {"mixes": []}, {"more": [], "mixes": [{}]}, {"more": [], "mixes": []}])
def test_an_exploration_of_which_run_json_says_nothing_cannot_be_gone_on_with(folder, exploring, data):
    found = begun(folder, variants=[], explore=data, facts=facts_data(replace(FACTS, sources=("a mix",))))
    with pytest.raises(RunFolderError, match="does not say how to go on with this exploration"):
        explored_before(found, *exploring, FACTS)


def test_more_is_for_a_finished_exploration(folder, chain, exploring):
    refuse_more(begun(folder, state="finished"), exploring[0])
    with pytest.raises(RunFolderError, match="not finished yet: nothing can be added to it"):
        refuse_more(begun(folder, state="interrupted"), exploring[0])
    with pytest.raises(RunFolderError, match="renders every combination: there is nothing to add"):
        refuse_more(begun(folder, state="finished"), chain)
