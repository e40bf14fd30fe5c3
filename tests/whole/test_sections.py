"""`sweeper sections` as a user runs it: the lines load as a chain file, the data agree with the meters."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import soundfile
from signals import noise, silence
from whole_runs import sweeper

from sweeper.chain import load_chain

LEVELS_DBFS = (-30.0, -18.0, -30.0, -24.0)
EDGES_S = (2.0, 14.0, 26.0, 38.0, 50.0)
STAGES = 'inserts: [{name: trim, plugin: "builtin:Gain", settings: {gain db: -1 dB}}]\n'


@pytest.fixture(scope="module")
def stepped(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two seconds of silence, four parts of 12 s in steps of level, three seconds of silence; an awkward name."""
    path = tmp_path_factory.mktemp("sections") / 'low "tide" #2.wav'
    parts = [noise(12.0, 44100, level_dbfs=level, seed=n) for n, level in enumerate(LEVELS_DBFS)]
    whole = np.concatenate([silence(2.0, 44100), *parts, silence(3.0, 44100)], axis=1)
    soundfile.write(path, whole.T, 44100, subtype="PCM_24")
    return path


@pytest.fixture(scope="module")
def lines(stepped: Path) -> str:
    """What the command prints for it."""
    ran = sweeper("sections", stepped.name, cwd=stepped.parent)
    assert (ran.code, ran.err) == (0, "")
    return ran.out


def test_the_lines_load_as_a_chain_file(stepped, lines):
    file = stepped.parent / "pasted.chain.yaml"
    file.write_text(lines + STAGES, encoding="utf-8")
    (mix,) = load_chain(file).mixes
    assert mix.file == stepped
    assert [section.name for section in mix.sections] == ["a1", "b1", "a2", "c1"]
    assert [section.start_s for section in mix.sections] == pytest.approx(EDGES_S[:-1], abs=0.25)
    assert [section.end_s for section in mix.sections] == pytest.approx(EDGES_S[1:], abs=0.25)


def test_every_line_says_what_it_is(lines):
    first, second, third, fourth = lines.splitlines()[-4:]
    assert first.endswith("LUFS, like a2")
    assert "LUFS, loudest; 12." in second or "LUFS, loudest; 11.9 LU" in second
    assert " LU louder" in second
    assert ", like a1; " in third
    assert " LU quieter" in third
    assert "loudest" not in first + third + fourth


def test_silence_is_left_out_and_said(lines):
    assert "# silence up to 0:02.0 is left out\n# silence from 0:50.0 on is left out\n" in lines


def test_the_loudness_is_what_a_run_measures_there(stepped):
    from sweeper.audio import inspect
    from sweeper.meter import measure

    data = sweeper("sections", stepped.name, "--json", cwd=stepped.parent).data
    samples, rate_hz = soundfile.read(stepped, dtype="float32", always_2d=True)
    ranges = {one["name"]: [(round(one["start_s"] * rate_hz), round(one["end_s"] * rate_hz))]
              for one in data["sections"]}  # fmt: skip
    measured = measure(samples.T.copy(), inspect(stepped).format, ranges).sections
    assert {one["name"]: one["loudness_lufs"] for one in data["sections"]} == {
        name: pytest.approx(measured[name]["loudness_lufs"], abs=1e-9) for name in ranges
    }
    assert [one["loudest"] for one in data["sections"]] == [False, True, False, False]
    assert data["sections"][1]["louder_lu"] == pytest.approx(12.0, abs=0.3)
    assert (data["schema"], data["duration_s"]) == (1, 53.0)


LONG_TRACKS = [pytest.param(name, marks=pytest.mark.long) for name in ("track5", "Deprecation", "Advanced Simulacra")]


@pytest.mark.parametrize("track", ["track27", *LONG_TRACKS])
def test_on_real_music_sections_follow_each_other_and_cover_it(music, track, tmp_path):
    # plausibility only: nobody has told us where the parts of these tracks begin
    data = sweeper("sections", music[track], "--json", cwd=tmp_path).data
    found = data["sections"]
    assert 1 <= len(found) <= 8
    assert found[0]["start_s"] < 1.0
    assert all(one["end_s"] == other["start_s"] for one, other in pairwise(found))
    assert all(one["end_s"] - one["start_s"] >= 8.0 - 1e-9 for one in found)
    assert data["duration_s"] - 12.0 < found[-1]["end_s"] <= data["duration_s"]
    assert sum(one["loudest"] for one in found) == (len(found) > 1)


@pytest.mark.parametrize(
    ("samples", "words"),
    [
        pytest.param(noise(3.0, 8000), "# one section: it is too short for two of 8 s\n", marks=pytest.mark.long),
        (noise(30.0, 8000, channels=1), "# one section: its level and its spectrum stay much the same throughout\n"),
        (silence(20.0, 8000), "# no section: less than 0.4 s of it sounds\n"),
    ],
)
def test_one_section_or_none_is_said_with_the_reason(tmp_path, samples, words):
    soundfile.write(tmp_path / "mix.wav", samples.T, 8000, subtype="PCM_24")
    ran = sweeper("sections", "mix.wav", cwd=tmp_path)
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.startswith(words)
    assert ("a1:" in ran.out) == words.startswith("# one")


@pytest.mark.long
def test_silence_between_two_parts_is_no_section(tmp_path):
    music = np.concatenate([noise(12.0, 16000), silence(20.0, 16000), noise(12.0, 16000, seed=2)], axis=1)
    soundfile.write(tmp_path / "mix.wav", music.T, 16000, subtype="PCM_24")
    ran = sweeper("sections", "mix.wav", cwd=tmp_path)
    assert "# 0:12.0-0:32.0 is left out: nothing there is louder than -70 LUFS\n" in ran.out
    assert [line.split()[0] for line in ran.out.splitlines() if ': "0:' in line] == ["a1:", "a2:"]


@pytest.mark.parametrize(
    ("channels", "rate_hz", "words"),
    [(3, 48000, "has 3 channels\n    mono and stereo"), (1, 6000, "has a rate of 6000 Hz\n    loudness is defined")],
)
@pytest.mark.long
def test_what_cannot_be_mastered_has_no_sections(tmp_path, channels, rate_hz, words):
    soundfile.write(tmp_path / "mix.wav", np.zeros((rate_hz, channels)), rate_hz)
    ran = sweeper("sections", "mix.wav", cwd=tmp_path)
    assert ran.code == 3
    assert words in ran.err
    assert sweeper("sections", "none.wav", cwd=tmp_path).code == 3
    assert sweeper("sections", "mix.wav", "--most", 0, cwd=tmp_path).code == 2
