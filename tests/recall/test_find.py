"""From a file to its sheet, wherever that lies; and what is said when there is none."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from recall_sheets import SHEET

from sweeper.audio import BroadcastTag, WavWriter, inspect, write_gained
from sweeper.audio.sample_hash import sample_hash
from sweeper.errors import AudioFileError, SheetError
from sweeper.recall.find import find, old_render, read_sheet


@pytest.fixture
def variant(tmp_path):
    """A variant's folder with render.wav, matched.wav and recall.json, in tmp_path/results."""
    folder = tmp_path / "results" / "2026-11-24-lantern" / "variants" / "004"
    folder.mkdir(parents=True)
    noise = np.random.default_rng(1).uniform(-0.5, 0.5, (2, 5000)).astype(np.float32)
    with WavWriter(folder / "render.wav", 2, 44100) as writer:
        writer.write(noise)
        writer.commit(BroadcastTag(SHEET.id, "2026-11-24", "18:05:09", -10.0))
    write_gained(folder / "render.wav", folder / "matched.wav", -2.0)
    sheet = replace(SHEET, audio_sha256=sample_hash(inspect(folder / "render.wav")))
    (folder / "recall.json").write_text(json.dumps(sheet.as_data()))
    return folder


def test_a_sheet_is_found_by_itself(variant, tmp_path):
    found = find(variant / "recall.json", tmp_path)
    assert (found.sheet.variant, found.sound, found.run) == ("004", None, variant.parent.parent)
    assert old_render(found) == (variant / "render.wav", ())


@pytest.mark.parametrize("name", ["render.wav", "matched.wav"])
def test_a_file_beside_its_sheet_needs_no_results_folder(variant, tmp_path, name):
    found = find(variant / name, tmp_path / "nowhere")
    assert (found.place, found.sound) == (variant / "recall.json", variant / name)
    assert old_render(found) == (variant / "render.wav", ())


def test_a_file_found_alone_leads_to_its_run(variant, tmp_path):
    other = variant.parent / "005"
    other.mkdir()
    (other / "recall.json").write_text(json.dumps(replace(SHEET, id="f" * 24, notes=(SHEET.id,)).as_data()))
    alone = (variant / "matched.wav").rename(tmp_path / "from the client.wav")
    found = find(alone, tmp_path / "results")
    assert found.place == variant / "recall.json", "not the sheet that merely mentions the id"


def test_the_file_itself_is_the_old_render_where_the_run_has_none(variant, tmp_path):
    alone = (variant / "render.wav").rename(tmp_path / "alone.wav")
    assert old_render(find(alone, tmp_path / "results")) == (alone, ())


def test_a_render_that_was_changed_is_not_taken_for_the_old_one(variant, tmp_path):
    content = bytearray((variant / "render.wav").read_bytes())
    content[-2] ^= 1
    (variant / "render.wav").write_bytes(content)
    old, (note, copy) = old_render(find(variant / "matched.wav", tmp_path))
    assert old is None
    assert "render.wav no longer holds what its sheet says" in note
    assert "matched.wav is not the render itself" in copy


def test_a_render_that_was_cut_short_is_not_taken_for_the_old_one(variant, tmp_path):
    (variant / "render.wav").write_bytes((variant / "render.wav").read_bytes()[:5000])
    old, (note,) = old_render(find(variant / "recall.json", tmp_path))
    assert old is None
    assert "no longer" in note


def test_a_file_whose_sheet_is_nowhere_is_told_with_its_id(variant, tmp_path):
    alone = (variant / "render.wav").rename(tmp_path / "alone.wav")
    with pytest.raises(SheetError, match=f"has the id {SHEET.id}") as caught:
        find(alone, tmp_path / "other results")
    assert "--results" in caught.value.remedy


@pytest.mark.parametrize("name", ["song.wav", "song.flac", "notes.txt"])
def test_a_file_that_is_not_ours_is_told_to_be_none(tmp_path, name):
    import soundfile

    if name.endswith("txt"):
        (tmp_path / name).write_text("not a sound file")
    else:
        soundfile.write(tmp_path / name, np.zeros((100, 2)), 44100)
    with pytest.raises(SheetError, match="holds no id of ours"):
        find(tmp_path / name, tmp_path)


@pytest.mark.parametrize(
    ("content", "words"),
    [(None, "there is no such file"), (b"{", "not a recall sheet"), (b"\xff\xfe", "not a recall sheet"),
     (b"[" * 100_000, "not a recall sheet"), (b'{"schema": 1}', "not a recall sheet")],
)  # fmt: skip
def test_what_is_no_sheet_is_refused(tmp_path, content, words):
    path = tmp_path / "recall.json"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(SheetError, match=words):
        find(path, tmp_path)


def test_a_folder_without_a_sheet_is_refused_with_what_to_name(tmp_path):
    with pytest.raises(SheetError, match="with no recall sheets") as caught:
        find(tmp_path, tmp_path)
    assert "recall.json of a variant" in caught.value.remedy


def test_a_missing_sound_file_is_said(tmp_path):
    with pytest.raises(AudioFileError, match="no such file"):
        find(tmp_path / "gone.wav", tmp_path)


def test_a_sheet_is_read_whole(variant):
    assert replace(read_sheet(variant / "recall.json"), audio_sha256=SHEET.audio_sha256) == SHEET
