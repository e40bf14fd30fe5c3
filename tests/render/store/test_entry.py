"""What is read back is what was written, or it is said that it is not."""

from __future__ import annotations

import hashlib
import json
import os
import pickle
from dataclasses import replace

import numpy as np
import pytest
import soundfile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from store_program import STAGE, key, put, sound

from sweeper.audio import AudioFormat, blocks, inspect
from sweeper.audio.wav import header
from sweeper.errors import StoreDamaged
from sweeper.render.store import entry_bytes, open_entry
from sweeper.render.store.entry import DESCRIPTION_BYTES, SCHEMA, TAG, Description, as_bytes, described, whole
from sweeper.render.store.place import json_path, wav_path

NAME = key(1)


@pytest.fixture(name="store")
def _store(tmp_path):
    put(tmp_path, NAME, sound(300))
    return tmp_path


def refused(store):
    """Whether the entry is seen to be damaged."""
    with pytest.raises(StoreDamaged) as caught:
        open_entry(store, NAME)
    return caught.value.key == NAME


@pytest.mark.parametrize("channels", [1, 2, 6])
def test_samples_and_records_come_back_to_the_bit(tmp_path, channels):
    samples = sound(70_000, channels=channels)
    put(tmp_path, NAME, samples, (STAGE, replace(STAGE, name="limit", settings=())))
    entry = open_entry(tmp_path, NAME)
    assert np.array_equal(np.concatenate(list(blocks(entry.file, 1000)), axis=1), samples)
    assert np.array_equal(soundfile.read(entry.file.path, dtype="float32", always_2d=True)[0].T, samples)
    assert entry.stages == (STAGE, replace(STAGE, name="limit", settings=()))
    assert (entry.notes, entry.plugin_s) == (("a note",), 2.5)


def test_the_file_is_described_as_a_look_into_it_describes_it(store):
    entry = open_entry(store, NAME)
    assert entry.file == inspect(entry.file.path)
    assert entry.file.format == AudioFormat(2, 48000)


def test_the_hash_is_that_of_the_interleaved_samples(store):
    data = json.loads(json_path(store, NAME).read_bytes())
    samples, _ = soundfile.read(wav_path(store, NAME), dtype="float32", always_2d=True)
    assert data["sha256"] == hashlib.sha256(samples.astype("<f4").tobytes()).hexdigest()
    assert (data["schema"], data["frames"], data["channels"], data["rate_hz"]) == (SCHEMA, 300, 2, 48000)


def test_opening_changes_nothing(store):
    before = {path: path.stat().st_mtime_ns for path in store.rglob("*")}
    open_entry(store, NAME)
    assert {path: path.stat().st_mtime_ns for path in store.rglob("*")} == before


@pytest.mark.parametrize("suffix", [".wav", ".json"])
def test_every_single_bit_counts(store, suffix):
    """Each byte of both files, a bit of it flipped."""
    path = wav_path(store, NAME).with_suffix(suffix)
    content = bytearray(path.read_bytes())
    missed = []
    for place in range(len(content)):
        content[place] ^= 1 << place % 8
        path.write_bytes(content)
        try:
            open_entry(store, NAME)
            missed.append(place)
        except StoreDamaged as error:
            assert error.key == NAME
        content[place] ^= 1 << place % 8
    assert missed == []
    path.write_bytes(content)
    assert open_entry(store, NAME).file.frames == 300


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_any_flipped_bit_of_a_description_is_seen(store, data):
    path = json_path(store, NAME)
    content = path.read_bytes()
    altered = bytearray(content)
    bit = data.draw(st.integers(0, 8 * len(content) - 1))
    altered[bit // 8] ^= 1 << bit % 8
    path.write_bytes(altered)
    assert refused(store) and not whole(store, NAME)
    path.write_bytes(content)


@pytest.mark.parametrize("suffix", [".wav", ".json"])
@pytest.mark.parametrize("size", [0, 1, 100, 703, 704, 1500, -1])
def test_a_file_cut_short(store, suffix, size):
    path = wav_path(store, NAME).with_suffix(suffix)
    os.truncate(path, size if size >= 0 else path.stat().st_size - 1)
    assert refused(store) and not whole(store, NAME)


def test_a_wrong_length_is_said_without_reading_the_samples(store):
    size = wav_path(store, NAME).stat().st_size
    os.truncate(wav_path(store, NAME), size - 8)
    with pytest.raises(StoreDamaged, match=f"is {size - 8} bytes long, not {size}"):
        open_entry(store, NAME)


@pytest.mark.parametrize("suffix", [".wav", ".json"])
def test_a_file_with_something_behind_it(store, suffix):
    with wav_path(store, NAME).with_suffix(suffix).open("ab") as handle:
        handle.write(b"\0")
    assert refused(store) and not whole(store, NAME)


@pytest.mark.parametrize("suffix", [".wav", ".json"])
def test_a_file_that_is_not_there(store, suffix):
    wav_path(store, NAME).with_suffix(suffix).unlink()
    assert refused(store) and not whole(store, NAME)


@pytest.mark.parametrize("suffix", [".wav", ".json"])
def test_a_folder_in_its_place(store, suffix):
    path = wav_path(store, NAME).with_suffix(suffix)
    path.unlink()
    path.mkdir()
    assert refused(store)


@pytest.mark.parametrize("content", [b"", b"[]", b"null", b"{}", b'"a"', b"\xff", b"[" * 100_000, b'{"check": 1}'])
def test_a_description_that_is_something_else(store, content):
    json_path(store, NAME).write_bytes(content)
    assert refused(store) and not whole(store, NAME)


def test_the_description_of_another_entry(store):
    put(store, key(2), sound(300, seed=2))
    json_path(store, NAME).write_bytes(json_path(store, key(2)).read_bytes())
    wav_path(store, NAME).write_bytes(wav_path(store, key(2)).read_bytes())
    assert refused(store)


def test_the_samples_of_another_entry_of_the_same_length(store):
    put(store, key(2), sound(300, seed=2))
    wav_path(store, NAME).write_bytes(wav_path(store, key(2)).read_bytes())
    assert whole(store, NAME), "a look at the lengths cannot tell"
    assert refused(store)


def test_a_record_from_another_version_is_rendered_again(store):
    written = json.loads(json_path(store, NAME).read_bytes())
    for changed in ({"schema": SCHEMA + 1}, {"stages": [{"name": "glue"}]}):
        data = {**written, **changed}
        del data["check"]
        check = hashlib.sha256((json.dumps(data) + "\n").encode()).hexdigest()
        json_path(store, NAME).write_text(json.dumps({**data, "check": check}) + "\n")
        assert refused(store)


def test_a_number_that_is_none_is_a_mistake_of_ours():
    with pytest.raises(ValueError, match="JSON compliant"):
        as_bytes(Description(NAME, 1, 1, 1, "", (), (), float("nan")))


def test_an_hour_past_four_gigabytes(tmp_path):
    """96 kHz for 100 minutes: 4.6 GB. Only its header is on the disk, and the rest, zeros, takes no room on it."""
    frames = 576_000_000
    put(tmp_path, NAME, np.zeros((2, 1), np.float32))
    json_path(tmp_path, NAME).write_bytes(as_bytes(replace(described(tmp_path, NAME), frames=frames)))
    wav_path(tmp_path, NAME).write_bytes(header(2, 48000, frames, TAG))
    os.truncate(wav_path(tmp_path, NAME), entry_bytes(frames, 2) - DESCRIPTION_BYTES)
    assert whole(tmp_path, NAME)
    assert soundfile.info(wav_path(tmp_path, NAME)).frames == frames


def test_what_an_entry_takes_is_reckoned_with_room(store):
    taken = wav_path(store, NAME).stat().st_size + json_path(store, NAME).stat().st_size
    assert taken < entry_bytes(300, 2) < taken + DESCRIPTION_BYTES


def test_a_stage_of_a_thousand_settings_fits_what_is_reckoned(tmp_path):
    put(tmp_path, NAME, sound(300), (replace(STAGE, standing=STAGE.standing * 500),))
    taken = wav_path(tmp_path, NAME).stat().st_size + json_path(tmp_path, NAME).stat().st_size
    assert taken <= entry_bytes(300, 2)


def test_the_error_keeps_its_key_between_processes(store):
    wav_path(store, NAME).unlink()
    with pytest.raises(StoreDamaged) as caught:
        open_entry(store, NAME)
    copy = pickle.loads(pickle.dumps(caught.value))
    assert (type(copy), copy.key, copy.what, copy.remedy) == (
        StoreDamaged, NAME, caught.value.what, caught.value.remedy)  # fmt: skip
    assert "is not there" in copy.what and copy.exit_code == 5
