"""Files for a monitor controller: aligned, equally loud (measured by pyloudnorm), and nothing that tells them apart."""

from __future__ import annotations

import json

import heard_runs
import numpy as np
import pytest
import soundfile
from whole_runs import outside_lufs

from sweeper.audio import read_tag
from sweeper.audition.blind_files import letters, write_blind
from sweeper.errors import RunFolderError


@pytest.fixture(scope="module")
def written(ready, tmp_path_factory):
    return write_blind(ready, tmp_path_factory.mktemp("files") / "blind", seed=11)


def key(written):
    return {one["id"]: one for one in json.loads(written.key.read_text())["files"]}


def test_they_are_equally_loud_by_an_outside_meter(written):
    levels = [outside_lufs(file) for file in sorted(written.folder.glob("?.wav"))]
    assert len(levels) == 4
    assert max(levels) - min(levels) < 0.01


def test_each_is_its_sound_at_its_gain_from_the_same_frame_on(ready, written):
    for one in ready.sounds:
        told = key(written)[one.found.id]
        file, rate_hz = soundfile.read(written.folder / told["file"], dtype="float32", always_2d=True)
        source, _ = soundfile.read(one.file, dtype="float32", always_2d=True)
        assert rate_hz == 44100
        assert np.allclose(file[: len(source)], source * np.float32(10 ** (one.gain_db / 20)), atol=1e-6)
        assert not file[len(source) :].any(), "silence up to the longest"
        assert told["match_gain_db"] == pytest.approx(one.gain_db, abs=1e-4)


def test_nothing_but_the_sound_tells_them_apart(written):
    files = sorted(written.folder.glob("?.wav"))
    assert [file.name for file in files] == ["A.wav", "B.wav", "C.wav", "D.wav"]
    for told in (lambda f: f.stat().st_size, lambda f: f.stat().st_mtime_ns, lambda f: f.read_bytes()[:700],
                 lambda f: soundfile.info(f).subtype):  # fmt: skip
        assert len({told(file) for file in files}) == 1
    tag = read_tag(files[0])
    assert (tag.reference, tag.loudness_lufs) == ("", None), "a loudness in the file would give it away"
    assert [path.name for path in written.folder.iterdir() if path.suffix != ".wav"] == [], "the key lies beside"


def test_the_key_says_which_is_which_and_the_same_seed_shuffles_alike(ready, written, tmp_path):
    data = json.loads(written.key.read_text())
    assert (data["seed"], data["run"]) == (11, ready.heard.identity)
    again = write_blind(ready, tmp_path / "again", seed=11)
    assert key(again) == key(written)
    orders = {tuple(one.id for one in write_blind(ready, tmp_path / f"s{n}", seed=n).files) for n in range(4)}
    assert len(orders) > 1
    assert key(written)["reference-1-1"]["file"] == "reference 1.wav", "other music cannot be blind"


def test_by_chance_where_no_seed_is_given(ready, tmp_path):
    seeds = {write_blind(ready, tmp_path / f"n{n}").seed for n in range(3)}
    assert len(seeds) == 3


def test_nothing_is_overwritten_and_nothing_half_made_is_left(ready, tmp_path, monkeypatch):
    (tmp_path / "there").mkdir()
    with pytest.raises(RunFolderError, match="is there already"):
        write_blind(ready, tmp_path / "there")
    (tmp_path / "mine.key.json").write_text("mine")
    with pytest.raises(RunFolderError, match="is there already"):
        write_blind(ready, tmp_path / "mine")
    assert (tmp_path / "mine.key.json").read_text() == "mine"

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("sweeper.audition.blind_files._made_alike", full)
    with pytest.raises(RunFolderError, match="full"):
        write_blind(ready, tmp_path / "new")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["mine.key.json", "there"]


def test_letters_go_on_after_z():
    assert letters(3) == ["A", "B", "C"]
    assert letters(28)[25:] == ["Z", "AA", "AB"]
    assert len(set(letters(800))) == 800


def test_a_mono_mix_among_stereo_masters_is_put_on_both(tmp_path, pool, ready):
    from dataclasses import replace

    first, *rest = ready.mixes[0].sounds
    mono = tmp_path / "mono.wav"
    samples, rate_hz = soundfile.read(first.file, dtype="float32", always_2d=True)
    soundfile.write(mono, samples[:, 0], rate_hz, subtype="FLOAT")
    changed = replace(first, file=mono, look=replace(first.look, channels=1))
    mixed = replace(ready, mixes=(replace(ready.mixes[0], sounds=(changed, *rest)),))
    found = write_blind(mixed, tmp_path / "blind", seed=1)
    file, _ = soundfile.read(found.folder / key(found)[first.found.id]["file"], always_2d=True)
    assert file.shape[1] == 2
    assert np.array_equal(file[:, 0], file[:, 1])
    assert heard_runs.SECONDS == 4.0
