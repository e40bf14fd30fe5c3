"""What was dialled comes into the chain file where it stands there, and nowhere else."""

from __future__ import annotations

import pytest

from sweeper.chain import load_chain
from sweeper.dial.choosing import chosen
from sweeper.dial.orders import Closed, Moved, Work
from sweeper.dial.outcome import kept
from sweeper.dial.signs import Signs
from sweeper.errors import Interrupted, RunFolderError

TEXT = """\
mix: mix.wav
inserts:
  - {name: eq, plugin: EQ, channels: mid/side, settings: {mid: {Low: 1 dB}, side: {Low: 2 dB}}}
  - name: glue
    plugin: Comp
    drive: lower Threshold
    settings: {ratio: 2, Attack: 5 ms, Threshold: -12 dB, Knee: 1 dB}
vary: {glue.Attack: [5 ms, 9 ms], glue.Knee: {from dialled: [0 dB, 1 dB]}}
reach: [{loudness: -12 LUFS, by: glue.drive}]
"""
NAMES = {name: name for name in ("Attack", "Threshold", "Knee", "Low")} | {"ratio": "Ratio"}


@pytest.fixture
def place(tmp_path):
    (tmp_path / "mix.wav").write_bytes(b"")
    (tmp_path / "t.yaml").write_text(TEXT)
    return tmp_path / "t.yaml"


@pytest.fixture
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("signs")


def closed(*names, work=Work.DONE, notes=()):
    moved = tuple(Moved(name, "old", "new", f"{n}.5 dB") for n, name in enumerate(names))
    return Closed(b"VST3", work, moved, NAMES, notes)


def test_what_stands_in_the_file_is_written_and_the_rest_is_the_states(place, folder):
    picked = chosen(load_chain(place), "glue", None, None)
    made = kept(picked, closed("Ratio", "Makeup", "Knee"), ("a note",), False, Signs(folder))
    assert [(one.moved.name, one.written) for one in made.changed] == [
        ("Ratio", "0.5 dB"), ("Makeup", ""), ("Knee", "2.5 dB")]  # fmt: skip
    new = TEXT.replace("    plugin: Comp\n", "    plugin: Comp\n    state: states/glue.vstpreset\n")
    assert place.read_text() == new.replace("ratio: 2,", "ratio: 0.5 dB,").replace("Knee: 1 dB}", "Knee: 2.5 dB}")
    assert made.notes == ("a note",)
    assert (made.copy.read_text(), made.state.read_bytes()) == (TEXT, b"VST3")
    data = made.as_data()
    assert data["schema"] == 1
    assert data["changed"][1] == {"setting": "Makeup", "before": "old", "after": "new", "written": None}


def test_varied_and_solved_settings_are_left_alone_and_that_is_said(place, folder):
    made = kept(chosen(load_chain(place), "glue", None, None), closed("Attack", "Threshold"), (), False, Signs(folder))
    assert [one.written for one in made.changed] == ["", ""]
    assert "settings: {ratio: 2, Attack: 5 ms, Threshold: -12 dB, Knee: 1 dB}" in place.read_text()
    assert made.notes == ("'Attack' was dialled, but is varied in the chain file, which decides",
                          "'Threshold' was dialled, but is solved in the chain file, which decides")  # fmt: skip


def test_one_side_is_written_for_that_side_only(place, folder):
    made = kept(chosen(load_chain(place), "eq", None, None), closed("Low"), (), False, Signs(folder))
    assert "settings: {mid: {Low: 0.5 dB}, side: {Low: 2 dB}}}" in place.read_text()
    assert made.notes == ("the window was that of the mid side; its state is for every side",)


@pytest.mark.parametrize("interrupted", [False, True])
def test_nothing_dialled_is_nothing_written(place, folder, interrupted):
    picked = chosen(load_chain(place), "glue", None, None)
    if interrupted:
        with pytest.raises(Interrupted, match="nothing was dialled"):
            kept(picked, closed(work=Work.NONE), (), True, Signs(folder))
    else:
        made = kept(picked, closed(work=Work.NONE), ("a note",), False, Signs(folder))
        assert (made.state, made.copy, made.changed, made.notes) == (None, None, (), ("a note",))
    assert sorted(path.name for path in place.parent.iterdir()) == ["mix.wav", "t.yaml"]


def test_a_state_without_a_moved_setting_is_kept_all_the_same(place, folder):
    made = kept(chosen(load_chain(place), "glue", None, None), closed(), (), False, Signs(folder))
    assert made.changed == ()
    assert "state: states/glue.vstpreset" in place.read_text()


def test_a_state_that_may_not_be_work_is_kept_and_the_chain_file_is_left_alone(place, folder):
    made = kept(chosen(load_chain(place), "glue", None, None), closed(work=Work.UNKNOWN), ("a note",), False,
                Signs(folder))  # fmt: skip
    assert (made.state.read_bytes(), made.copy, made.changed) == (b"VST3", None, ())
    assert made.notes[0] == "a note"
    assert "write into 'glue': state: states/glue.vstpreset" in made.notes[1]
    assert place.read_text() == TEXT
    assert sorted(path.name for path in place.parent.iterdir()) == ["mix.wav", "states", "t.yaml"]


def test_ctrl_c_keeps_the_state_and_leaves_the_chain_file(place, folder):
    with pytest.raises(Interrupted) as stopped:
        kept(chosen(load_chain(place), "glue", None, None), closed("Ratio"), (), True, Signs(folder))
    assert place.read_text() == TEXT
    assert (place.parent / "states" / "glue.vstpreset").read_bytes() == b"VST3"
    assert "state: states/glue.vstpreset" in stopped.value.remedy


def test_a_state_that_finds_no_place_is_not_lost(place, folder):
    (place.parent / "states").write_text("a file, not a folder")
    with pytest.raises(RunFolderError) as refused:
        kept(chosen(load_chain(place), "glue", None, None), closed("Ratio"), (), False, Signs(folder))
    assert str(folder / "kept.vstpreset") in refused.value.what
    assert (folder / "kept.vstpreset").read_bytes() == b"VST3"
    assert place.read_text() == TEXT
