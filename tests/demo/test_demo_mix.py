"""The demo's mix: what README and demo/make_mix.py promise of it. The ranges are our own choice."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pyloudnorm
import pytest
import soundfile

from sweeper.chain import load_chain

DEMO = Path(__file__).parents[2] / "demo"
OTHER_SEED = 7
BOTH = pytest.mark.parametrize("name", ["first", pytest.param("other", marks=pytest.mark.long)])


def generated(out: Path, *options: str) -> Path:
    subprocess.run([sys.executable, DEMO / "make_mix.py", out, *options], check=True)
    return out


class Mixes(dict[str, Path]):
    """By name, each made when it is first asked for: that takes 15 s."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def __missing__(self, name: str) -> Path:
        options = ("--seed", str(OTHER_SEED)) if name == "other" else ()
        self[name] = generated(self.folder / f"{name}.wav", *options)
        return self[name]


@pytest.fixture(scope="module")
def mixes(tmp_path_factory: pytest.TempPathFactory) -> Mixes:
    return Mixes(tmp_path_factory.mktemp("mixes"))


@pytest.fixture(scope="module")
def sections() -> Mapping[str, tuple[float, float]]:
    """SECTIONS, read as a user's script would: with the demo's folder on the path."""
    code = "import json, make_mix; print(json.dumps(make_mix.SECTIONS))"
    done = subprocess.run([sys.executable, "-c", code], cwd=DEMO, check=True, capture_output=True, text=True)
    found = json.loads(done.stdout)
    return {name: tuple(span) for name, span in found.items()}


def samples(path: Path) -> np.ndarray:
    """Shape (channels, frames)."""
    return soundfile.read(path)[0].T


def loudness_lufs(sound: np.ndarray) -> float:
    return float(pyloudnorm.Meter(48_000).integrated_loudness(sound.T))


@pytest.mark.long
def test_one_seed_makes_the_same_bytes_twice(mixes):
    assert mixes["first"].read_bytes() == mixes["again"].read_bytes()


@pytest.mark.long
def test_another_seed_differs_in_every_second(mixes):
    first, other = samples(mixes["first"]), samples(mixes["other"])
    seconds = np.abs(first - other).reshape(2, -1, 48_000).max(axis=2)
    assert seconds.min() > 0.001


@BOTH
def test_format_is_that_of_a_mix_for_mastering(mixes, name):
    info = soundfile.info(mixes[name])
    assert (info.samplerate, info.channels, info.subtype, info.format) == (48_000, 2, "PCM_24", "WAV")
    assert 75 <= info.duration <= 100


@BOTH
def test_peaks_leave_room_for_mastering(mixes, name):
    assert 20 * np.log10(np.abs(samples(mixes[name])).max()) == pytest.approx(-6.0, abs=0.5)


@BOTH
def test_loudness_is_that_of_a_mix(mixes, name):
    assert loudness_lufs(samples(mixes[name])) == pytest.approx(-20.0, abs=1.0)


@BOTH
def test_loudness_range_is_that_of_a_song(mixes, name):
    assert 5 < pyloudnorm.Meter(48_000).loudness_range(samples(mixes[name]).T) < 15


@BOTH
def test_stereo_is_wide_and_holds_in_mono(mixes, name):
    assert 0.5 < np.corrcoef(samples(mixes[name]))[0, 1] < 0.9


@pytest.mark.parametrize(("low_hz", "high_hz", "floor_db"), [(8, 25, -50), (250, 350, -35)], ids=["rumble", "mud"])
def test_corrective_filters_have_something_to_do(mixes, low_hz, high_hz, floor_db):
    mid = samples(mixes["first"]).mean(axis=0)
    power = np.abs(np.fft.rfft(mid)) ** 2 * 2 / len(mid) ** 2  # Parseval: sums to the mean square
    pitch_hz = np.fft.rfftfreq(len(mid), 1 / 48_000)
    assert 10 * np.log10(power[(pitch_hz >= low_hz) & (pitch_hz < high_hz)].sum()) > floor_db


def test_last_chorus_is_the_loudest_section(mixes, sections):
    sound = samples(mixes["first"])
    loudness = {
        name: loudness_lufs(sound[:, round(start_s * 48_000) : round(end_s * 48_000)])
        for name, (start_s, end_s) in sections.items()
    }
    assert max(loudness, key=loudness.__getitem__) == "last chorus"


def test_sections_follow_each_other_and_fill_the_mix(mixes, sections):
    spans = list(sections.values())
    assert [start_s for start_s, _ in spans] == [0.0, *[end_s for _, end_s in spans[:-1]]]
    assert spans[-1][1] == soundfile.info(mixes["first"]).duration


@pytest.fixture
def chain(tmp_path):
    """The demo's chain, beside a stand-in for its mix: a fresh checkout has none yet."""
    shutil.copy(DEMO / "chain.yaml", tmp_path)
    (tmp_path / "tin-boats.wav").touch()
    return load_chain(tmp_path / "chain.yaml")


def test_chain_file_names_the_same_sections(chain, sections):
    (mix,) = chain.mixes
    assert {section.name: (section.start_s, section.end_s) for section in mix.sections} == sections


def test_chain_file_uses_only_effects_that_come_with_it(chain):
    assert all(stage.plugin.startswith("builtin:") for stage in chain.stages)


def test_a_seed_below_zero_is_refused_in_words(tmp_path):
    done = subprocess.run([sys.executable, DEMO / "make_mix.py", tmp_path / "x.wav", "--seed", "-1"],
                          capture_output=True, text=True)  # fmt: skip
    assert done.returncode == 2
    assert "--seed -1 is below 0: use 0 or more" in done.stderr
