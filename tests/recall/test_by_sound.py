"""A file whose metadata are gone is known by its samples: as a render, as a print, as a listening copy."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
import soundfile
from recall_sheets import SHEET

from sweeper.audio import BroadcastTag, WavWriter, audio_hash, inspect, write_gained
from sweeper.audio.sample_hash import sample_hash
from sweeper.errors import SheetError
from sweeper.recall.find import find
from sweeper.recall.prints import prints_of


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


def stripped(source, target, subtype="FLOAT"):
    """The samples alone, written by another program."""
    samples, rate_hz = soundfile.read(source, dtype="float32")
    soundfile.write(target, samples, rate_hz, subtype=subtype)
    return target


def test_a_render_without_metadata(variant, tmp_path):
    found = find(stripped(variant / "render.wav", tmp_path / "from the client.wav"), tmp_path / "results")
    assert found.place == variant / "recall.json"
    assert "its sound is that of this sheet" in found.how


def test_of_several_the_one_that_was_not_made_again_itself_and_the_earliest(variant, tmp_path):
    others = {"parent": SHEET.id, "created": "2020-01-01T00:00:00"}, {"created": "2026-12-24T00:00:00"}
    for n, more in enumerate(others):
        again = tmp_path / "results" / f"2027-again-{n}" / "variants" / "004"
        again.mkdir(parents=True)
        data = json.loads((variant / "recall.json").read_text()) | more
        (again / "recall.json").write_text(json.dumps(data))
    found = find(stripped(variant / "render.wav", tmp_path / "alone.wav"), tmp_path / "results")
    assert found.place == variant / "recall.json"


def test_a_listening_copy_without_metadata(variant, tmp_path):
    found = find(stripped(variant / "matched.wav", tmp_path / "alone.wav"), tmp_path / "results")
    assert found.place == variant / "recall.json"
    assert "listening copy" in found.how


@pytest.mark.parametrize("hashed", [sample_hash, audio_hash])
def test_a_print_by_the_hash_that_its_run_noted(variant, tmp_path, hashed):
    printed = stripped(variant / "render.wav", tmp_path / "disc.wav", "PCM_16")
    manifest = variant.parents[1] / "prints" / "disc" / "print.json"
    manifest.parent.mkdir(parents=True)
    manifest.write_text(json.dumps({"schema": 1, "variant": "004", "files": [
        {"file": "disc.wav", "hash": hashed(inspect(printed))}]}))  # fmt: skip
    found = find(printed, tmp_path / "results")
    assert found.place == variant / "recall.json"
    assert "printed from variant 004" in found.how


def test_a_print_of_a_manifest_that_names_several_variants(variant, tmp_path):
    printed = stripped(variant / "render.wav", tmp_path / "disc.wav", "PCM_16")
    folder = variant.parents[1] / "prints"
    folder.mkdir()
    (folder / "other.json").write_text("{")
    (folder / "print.json").write_text(json.dumps({"tracks": [
        {"variant": "003", "files": [{"file": "a.wav", "hash": "f" * 64}]},
        {"variant": "004", "files": [{"file": "disc.wav", "hash": audio_hash(inspect(printed))}]}]}))  # fmt: skip
    assert find(printed, tmp_path / "results").place == variant / "recall.json"


def test_a_print_by_the_id_that_it_carries_whatever_became_of_its_sound(variant, tmp_path):
    (variant.parents[1] / "prints").mkdir()
    (variant.parents[1] / "prints" / "004.json").write_text(json.dumps({"schema": 1, "files": [
        {"file": "01.wav", "id": "e" * 24, "variant": "004", "sha256": "f" * 64}]}))  # fmt: skip
    with WavWriter(tmp_path / "edited.wav", 2, 44100) as writer:
        writer.write(np.full((2, 100), 0.25, np.float32))
        writer.commit(BroadcastTag("e" * 24, "2026-11-24", "18:05:09"))
    found = find(tmp_path / "edited.wav", tmp_path / "results")
    assert (found.place, found.how) == (variant / "recall.json", "it was printed from variant 004")
    assert list(prints_of(variant.parents[1], "004")) == ["01.wav"]
    assert list(prints_of(variant.parents[1], "005")) == []


def test_another_sound_is_not_known(variant, tmp_path):
    soundfile.write(tmp_path / "other.wav", np.full((5000, 2), 0.1), 44100, subtype="FLOAT")
    with pytest.raises(SheetError, match=r"nothing in .* is known to sound like it"):
        find(tmp_path / "other.wav", tmp_path / "results")


def test_a_run_that_lies_elsewhere_is_looked_into_where_it_is_named(variant, tmp_path):
    run = variant.parents[1].rename(tmp_path / "unpacked")
    alone = (run / "variants" / "004" / "render.wav").rename(tmp_path / "alone.wav")
    with pytest.raises(SheetError):
        find(alone, tmp_path / "results")
    place = run / "variants" / "004" / "recall.json"
    assert find(alone, tmp_path / "results", [run]).place == place
    assert find(alone, tmp_path / "results", [tmp_path]).place == place
    assert find(stripped(alone, tmp_path / "bare.wav"), tmp_path / "results", [run]).place == place


def test_the_folder_of_a_variant_or_of_a_run_with_one_stands_for_its_sheet(variant, tmp_path):
    assert find(variant, tmp_path).place == variant / "recall.json"
    assert find(variant.parents[1], tmp_path).place == variant / "recall.json"
    (variant.parent / "005").mkdir()
    (variant.parent / "005" / "recall.json").write_text((variant / "recall.json").read_text())
    with pytest.raises(SheetError, match="2 recall sheets") as caught:
        find(variant.parents[1], tmp_path)
    assert "variants/004, variants/005" in caught.value.remedy
