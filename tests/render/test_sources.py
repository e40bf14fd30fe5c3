"""Mixes and references measured before anything is rendered; what is wrong with them is said at once."""

from __future__ import annotations

from pathlib import Path

import pytest
from whole_runs import chain_file, mix, outside_lufs

from sweeper.chain import load_chain
from sweeper.errors import AudioFileError, ChainFileError
from sweeper.render.orders import MeasureOrder
from sweeper.render.sources import measured, measured_mixes
from sweeper.workers import Cause, Failed

CHAIN = """
album: each to target
inserts: [{name: one, plugin: "builtin:Gain"}]
"""


@pytest.fixture
def chain(tmp_path: Path):
    def loaded(text: str):
        return load_chain(chain_file(tmp_path, text + CHAIN))

    return loaded


def test_every_mix_is_measured_with_its_own_sections_in_the_files_order(pool, chain, tmp_path):
    mix(tmp_path / "a.wav", 1.2), mix(tmp_path / "b.wav", 0.8, 48000, seed=2)
    one, two = measured_mixes(chain("""
mixes: [{file: b.wav, sections: {verse: "0:00-0:00.5"}}, {file: a.wav, sections: {verse: "0:00.5-0:01"}}]
audition: {match over: [verse]}
"""), pool)  # fmt: skip
    assert [(m.file.path.name, m.file.format.rate_hz) for m in (one, two)] == [("b.wav", 48000), ("a.wav", 44100)]
    for each in (one, two):
        assert each.measurements["loudness_lufs"] == pytest.approx(outside_lufs(each.file.path), abs=0.02)
        assert each.measurements.sections["verse"]["loudness_lufs"] is not None
    assert one.audio_sha256 != two.audio_sha256


def test_sections_outside_their_mixes_are_all_told_at_their_lines(pool, chain, tmp_path):
    mix(tmp_path / "a.wav", 1.0), mix(tmp_path / "b.wav", 1.0)
    with pytest.raises(ChainFileError) as told:
        measured_mixes(chain("""mixes:
  - {file: a.wav, sections: {verse: "0:00-0:09"}}
  - {file: b.wav, sections: {verse: "0:07-0:08"}}
"""), pool)  # fmt: skip
    assert [(problem.line, problem.what.split(",")[0]) for problem in told.value.problems] == [
        (2, "section 'verse' ends at 0:09.0"), (3, "section 'verse' ends at 0:08.0")]  # fmt: skip


def test_a_surround_mix_is_refused_before_anything_is_measured(chain, tmp_path):
    mix(tmp_path / "a.wav", 0.2, channels=4)
    with pytest.raises(AudioFileError, match=r"^a\.wav has 4 channels"):
        measured_mixes(chain("mix: a.wav\n"), None)


def test_the_first_bad_file_is_named(pool, tmp_path):
    good = mix(tmp_path / "a.wav", 0.2)
    (tmp_path / "bad.wav").write_bytes(b"RIFF")
    with pytest.raises(AudioFileError, match=r"bad\.wav"):
        measured([MeasureOrder(good, {}), MeasureOrder(tmp_path / "bad.wav", {})], pool)


@pytest.mark.parametrize("error", [None, MemoryError("no room")])
def test_whatever_else_ended_the_measuring_is_an_error_about_the_file(error):
    class Crashing:
        def map_in_order(self, tasks):
            return [Failed(task.key, Cause.ERROR if error else Cause.CRASHED, "crashed", "", "", (), error)
                    for task in tasks]  # fmt: skip

    with pytest.raises(AudioFileError, match=r"^measuring /music/a\.wav crashed") as told:
        measured([MeasureOrder(Path("/music/a.wav"), {})], Crashing())
    assert "bounce it again" in told.value.remedy
