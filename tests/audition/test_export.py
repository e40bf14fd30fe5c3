"""A folder that may be sent to a client: its sound is the run's to 24 bits, and nothing private is in it."""

from __future__ import annotations

import base64
import json
import re

import heard_runs
import numpy as np
import pytest
import soundfile

from sweeper.audition.export import export
from sweeper.audition.gathered import gathered
from sweeper.errors import RunFolderError


def data_of(exported):
    text = exported.page.read_text("utf-8")
    return json.loads(re.search(r'id="audition">(.*?)</script>', text, re.DOTALL)[1])


def samples_of(exported, sound):
    """What a page gets of a sound, (frames, channels)."""
    audio, words = sound["audio"], []
    for number, name in enumerate(audio["chunks"]):
        text = (exported.page.parent / name).read_text("ascii")
        id, at, coded = re.fullmatch(r'auditionChunk\("([\w-]+)",(\d+),"([\w+/=]*)"\)\n', text).groups()
        assert (id, int(at)) == (sound["id"], number)
        raw = np.frombuffer(base64.b64decode(coded), np.uint8).reshape(-1, 3).astype(np.int32)
        whole = raw[:, 0] | raw[:, 1] << 8 | raw[:, 2] << 16
        words.append(np.where(whole >= 2**23, whole - 2**24, whole).reshape(-1, sound["channels"]))
        assert len(words[-1]) == audio["chunk_frames"] or number == len(audio["chunks"]) - 1
    return np.concatenate(words) / 2**23 * 10 ** (audio["gain_db"] / 20)


@pytest.fixture(scope="module")
def exported(ready, tmp_path_factory):
    place = tmp_path_factory.mktemp("sent")
    return export(ready, place / "for the band", page=heard_runs.page(place / "page"))


def test_the_sound_is_the_runs_to_24_bits(ready, exported):
    sounds = data_of(exported)["mixes"][0]["sounds"]
    assert [one["id"] for one in sounds] == [one.found.id for one in ready.sounds]
    for one, told in zip(ready.sounds, sounds, strict=True):
        original, _ = soundfile.read(one.file, dtype="float32", always_2d=True)
        back = samples_of(exported, told)
        assert back.shape == original.shape
        assert np.abs(back - original).max() <= 0.51 / 2**23 * 10 ** (told["audio"]["gain_db"] / 20)


def test_what_passes_full_scale_is_kept(run, tmp_path, pool):
    run = heard_runs.copied(run, tmp_path)
    path = run / "variants/001/render.wav"
    samples, rate_hz = soundfile.read(path, dtype="float32", always_2d=True)
    samples[1000:1100] = 2.5
    samples[2000:2100] = -2.5
    soundfile.write(path, samples, rate_hz, subtype="FLOAT")
    found = export(gathered(run, ("001",), (), pool), tmp_path / "out", page=heard_runs.page(tmp_path / "page"))
    told = data_of(found)["mixes"][0]["sounds"][0]
    assert told["audio"]["gain_db"] == pytest.approx(20 * np.log10(2.5), abs=0.02)
    assert np.abs(samples_of(found, told) - samples).max() < 3 / 2**23


def test_nothing_private_is_in_it(run, exported):
    everything = b"".join(file.read_bytes() for file in exported.page.parent.rglob("*") if file.suffix == ".html")
    names = " ".join(path.name for path in exported.page.parent.rglob("*"))
    for word in (*heard_runs.PRIVATE, str(run), str(run.parent), "/", "\\"):
        assert word not in names
        if len(word) > 1:
            assert word.encode() not in everything, word
    data = data_of(exported)
    assert "limiter.attenuation_db" not in json.dumps(data)
    sound = data["mixes"][0]["sounds"][0]
    assert sound["settings"] == []
    assert [one["text"] for one in sound["limits"]] == ["true peak <= 6 dBTP"]
    assert {one["measurements"]["attenuation_db"] for one in data["all"]} == {3.0}, "of the whole chain"


def test_settings_are_in_it_where_they_are_asked_for(ready, tmp_path):
    found = export(ready, tmp_path / "out", with_settings=True, page=heard_runs.page(tmp_path / "page"))
    sound = data_of(found)["mixes"][0]["sounds"][0]
    assert ["glue.Threshold", "-002 dB"] in sound["settings"]
    assert sound["measurements"]["limiter.attenuation_db"] == 2.5
    assert str(tmp_path) not in found.page.read_text("utf-8")


def test_a_page_from_disk_needs_no_network_and_nothing_outside_the_folder(exported):
    for name in (name for one in data_of(exported)["mixes"][0]["sounds"] for name in one["audio"]["chunks"]):
        assert re.fullmatch(r"audio/[\w-]+\.js", name)
        assert (exported.page.parent / name).is_file()
    assert exported.bytes == sum(file.stat().st_size for file in exported.page.parent.rglob("*") if file.is_file())


def test_nothing_is_overwritten_and_nothing_half_made_is_left(ready, tmp_path, monkeypatch):
    page = heard_runs.page(tmp_path / "page")
    (tmp_path / "there").mkdir()
    with pytest.raises(RunFolderError, match="is there already"):
        export(ready, tmp_path / "there", page=page)

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("sweeper.audition.export._s24", full)
    with pytest.raises(RunFolderError, match="full"):
        export(ready, tmp_path / "new", page=page)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["page", "there"]
