"""The loop is a stretch of what a run would render there."""

from __future__ import annotations

import numpy as np
import pytest
import soundfile
from plugin_fixtures import done, packaged, stage

from sweeper.dial.orders import Loop, LoopOrder
from sweeper.errors import AudioFileError

TASK = "sweeper.dial.loop_task:render_loop"
RATE = 44100


@pytest.fixture
def mix(tmp_path):
    rng = np.random.default_rng(2)
    samples = rng.standard_normal((RATE * 30, 2)) * 0.02
    samples[RATE * 7 : RATE * 27] *= 4
    soundfile.write(tmp_path / "mix.wav", samples, RATE, subtype="FLOAT")
    return tmp_path / "mix.wav"


def loop(pool, mix, stages=(), span_s=None) -> tuple[Loop, np.ndarray]:
    target = mix.with_name("loop.wav")
    target.unlink(missing_ok=True)
    made = done(pool, TASK, LoopOrder(mix, stages, span_s, target, 1024, 30.0))
    assert isinstance(made, Loop)
    return made, soundfile.read(made.file, dtype="float32", always_2d=True)[0]


def test_the_loudest_20_s_go_round_when_nobody_says_which(pool, mix):
    made, samples = loop(pool, mix)
    assert (made.start_s, made.end_s) == pytest.approx((7.0, 27.0), abs=0.11)
    assert samples.shape == (20 * RATE, 2)


def test_a_short_mix_goes_round_whole(pool, tmp_path):
    soundfile.write(tmp_path / "short.wav", np.full((RATE * 3, 1), 0.1), RATE)
    made, samples = loop(pool, tmp_path / "short.wav")
    assert (made.start_s, made.end_s, samples.shape) == (0.0, 3.0, (RATE * 3, 1))


def test_the_stages_have_heard_what_came_before(pool, mix):
    """A compressor that starts at the loop would be at rest; in a run it is not."""
    comp = stage(packaged("ZamCompX2"), Threshold="-40 dB", Ratio="10", Release="500 ms")
    made, cut = loop(pool, mix, (comp,), (9.0, 11.5))
    _, whole = loop(pool, mix, (comp,), (0.0, 30.0))
    first = round(9.0 * RATE)
    assert np.array_equal(cut, whole[first : first + round(2.5 * RATE)])
    assert not np.array_equal(cut, soundfile.read(mix, dtype="float32")[0][first : first + len(cut)])
    assert (made.start_s, made.end_s) == (9.0, 11.5)


def test_no_loop_outside_the_mix(pool, mix):
    with pytest.raises(AudioFileError, match="lasts 0:30"):
        loop(pool, mix, (), (40.0, 50.0))
