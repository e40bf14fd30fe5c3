"""Whole files in a worker: measured as others measure them, copied by a factor, timed on a plugin of known pace."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
from plugin_fixtures import done, stage
from whole_runs import mix, outside_lufs, samples

from sweeper.audio import AudioFormat, BroadcastTag
from sweeper.audio.broadcast import read_tag
from sweeper.errors import AudioFileError, RunFolderError
from sweeper.render import file_tasks, store
from sweeper.render.orders import CopyOrder, MeasureOrder, StoreTimeOrder, TimeOrder
from sweeper.workers import Pool, Report

TASKS = "sweeper.render.file_tasks"
STEREO = AudioFormat(2, 44100)


def measured(pool, file: Path, sections=None):
    return done(pool, f"{TASKS}:measure_file", MeasureOrder(file, sections or {}))


def part(file: Path, *ranges: tuple[int, int]) -> Path:
    """The frames of those ranges in a file of their own."""
    data, rate_hz = soundfile.read(file, always_2d=True)
    cut = file.with_name("part.wav")
    soundfile.write(cut, np.concatenate([data[first:last] for first, last in ranges]), rate_hz, subtype="DOUBLE")
    return cut


def test_a_file_and_its_sections_measure_as_by_pyloudnorm(pool, tmp_path):
    music = mix(tmp_path / "a.wav", 2.0)
    data, rate_hz = soundfile.read(music)
    soundfile.write(music, data * np.linspace(0.3, 1.0, len(data))[:, None], rate_hz, subtype="FLOAT")
    told = measured(pool, music, {"end": ((44100, 88200),), "early": ((0, 30870),)})
    assert told.measurements["loudness_lufs"] == pytest.approx(outside_lufs(music), abs=0.02)
    for name, cut in [("end", (44100, 88200)), ("early", (0, 30870))]:
        section = told.measurements.sections[name]
        assert section["loudness_lufs"] == pytest.approx(outside_lufs(part(music, cut)), abs=0.1)
    assert told.file.frames == len(data)


def test_a_file_is_known_by_its_samples(pool, tmp_path):
    music = mix(tmp_path / "a.wav", 0.2)
    data, rate_hz = soundfile.read(music)
    soundfile.write(tmp_path / "a.flac", data, rate_hz, subtype="PCM_24")
    soundfile.write(tmp_path / "b.wav", -data, rate_hz, subtype="PCM_24")
    same, wrapped, other = (measured(pool, tmp_path / name).audio_sha256 for name in ("a.wav", "a.flac", "b.wav"))
    assert same == wrapped != other


def test_a_file_that_cannot_be_measured_is_named(pool, tmp_path):
    (tmp_path / "text.wav").write_text("no sound")
    with pytest.raises(AudioFileError, match=r"text\.wav"):
        measured(pool, tmp_path / "text.wav")


@pytest.mark.parametrize("gain_db", [0.0, -6.5, 3.0])
def test_a_copy_is_the_file_times_the_factor_with_the_tag_it_was_given(pool, tmp_path, gain_db):
    music, target = mix(tmp_path / "a.wav", 0.2), tmp_path / "matched.wav"
    order = CopyOrder(music, target, gain_db, BroadcastTag("an id", "2026-11-24", "18:05:09", -12.5))
    assert done(pool, f"{TASKS}:copy_at_level", order) == target
    assert np.abs(samples(target) - samples(music) * 10 ** (gain_db / 20)).max() < 1e-6
    assert (read_tag(target).reference, read_tag(target).loudness_lufs) == ("an id", -12.5)
    with pytest.raises(RunFolderError, match="nothing is ever overwritten"):
        done(pool, f"{TASKS}:copy_at_level", order)


def test_a_plugin_that_takes_as_long_as_the_music_costs_a_second_a_second(pool, probes):
    order = TimeOrder((stage(probes["slow"]),), STEREO, 0.5, 1024, 60.0)
    assert 0.95 < done(pool, f"{TASKS}:time_chain", order) < 1.9, "more where other programs are at work too"


def test_no_stage_at_all_is_the_cost_of_measuring_once_the_meters_are_ready():
    """Far below real time on any machine that masters, in a process that has measured nothing before."""
    order = TimeOrder((), STEREO, 1.0, 1024, 60.0)
    first, later = [], []
    for _ in range(3):  # other programs are at work too
        with Pool(1) as fresh:
            first.append(done(fresh, f"{TASKS}:time_chain", order))
            later.append(done(fresh, f"{TASKS}:time_chain", order))
    assert 0 < min(later) < 1.0
    assert min(first) < min(later) + 0.2, "no loop is made or read while the clock runs, which takes 0.4 s to 3 s"


def test_what_is_tried_on_is_as_loud_and_falls_with_frequency_as_music_does():
    """3 dB an octave: from a density that goes as 1 / f follows the same power in every octave."""
    sound = np.concatenate(file_tasks._noise(AudioFormat(2, 48000), 6.0, 47 * 1024), axis=1)
    assert sound.dtype == np.float32
    assert 20 * np.log10(np.sqrt(np.square(sound, dtype=np.float64).mean())) == pytest.approx(-20.0, abs=0.01)
    power = np.square(np.abs(np.fft.rfft(sound.astype(np.float64)))).mean(axis=0)
    hz = np.fft.rfftfreq(sound.shape[1], 1 / 48000)
    octaves = [power[(hz >= low) & (hz < 2 * low)].sum() for low in (125, 1000, 8000)]
    assert 10 * np.log10(np.array(octaves) / octaves[0]) == pytest.approx([0.0, 0.0, 0.0], abs=0.5)


def test_storing_is_tried_and_leaves_nothing(pool, tmp_path):
    assert 0 < done(pool, f"{TASKS}:time_store", StoreTimeOrder(tmp_path, STEREO, 2.0)) < 1.0
    assert list(tmp_path.iterdir()) == []


def test_it_is_tried_on_the_disk_that_the_store_is_on(tmp_path, monkeypatch):
    tried: list[Path] = []

    def write_entry(folder: Path, *more):
        tried.append(folder)
        return store.write_entry(folder, *more)

    monkeypatch.setattr(file_tasks, "write_entry", write_entry)
    file_tasks.time_store(StoreTimeOrder(tmp_path, STEREO, 0.1), Report(lambda message: None))
    assert [folder.parent for folder in tried] == [tmp_path]
