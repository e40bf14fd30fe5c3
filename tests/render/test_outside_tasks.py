"""What comes back from outside: aligned to the sample, and refused where it cannot be what was sent."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile
from plugin_fixtures import done
from scipy.signal import resample_poly

from sweeper.audio import inspect
from sweeper.chain.model import Channels
from sweeper.errors import AudioFileError
from sweeper.host.setup import StageSetup
from sweeper.render.outside_orders import Sent, TakeOrder
from sweeper.render.store import open_entry

RATE_HZ = 44100
TAPE = StageSetup("tape", "", None, Channels.STEREO, (), outside="the tape machine")


@pytest.fixture
def sent() -> np.ndarray:
    """Noise with beats, long enough for its beginning and its end to be listened to."""
    rng = np.random.default_rng(3)
    frames = 20 * RATE_HZ
    beat = 0.2 + np.exp(-((np.arange(frames) % 22050) / 4000))
    centre = rng.standard_normal((frames, 1))
    return (0.07 * beat[:, None] * (centre + rng.standard_normal((frames, 2)))).astype(np.float32)


def taken(pool, folder: Path, sent: np.ndarray, got: np.ndarray, setup=TAPE, rate_hz=RATE_HZ):
    (folder / "steps").mkdir()
    soundfile.write(folder / "tape.wav", sent, RATE_HZ, subtype="FLOAT")
    soundfile.write(folder / "tape back.wav", got, rate_hz, subtype="FLOAT")
    account = Sent("hash", len(sent), RATE_HZ, 2, (), ())
    back, steps = folder / "tape back.wav", folder / "steps"
    order = TakeOrder(setup, back, folder / "tape.wav", account, steps, "before", "recipe")
    return done(pool, "sweeper.render.outside_tasks:take_in", order)


def samples(folder: Path, came) -> np.ndarray:
    entry = open_entry(folder / "steps", came.key)
    return soundfile.read(entry.file.path, dtype="float32")[0]


@pytest.mark.parametrize("late", [0, 1234, -500])
def test_it_is_aligned_to_the_sample_and_as_long_as_what_was_sent(pool, tmp_path, sent, late):
    got = np.pad(sent, ((late, 0), (0, 0))) if late >= 0 else sent[-late:]
    came = taken(pool, tmp_path, sent, 0.5 * got)
    aligned = samples(tmp_path, came)
    assert len(aligned) == len(sent)
    whole = slice(max(0, -late), len(sent))
    assert np.abs(aligned[whole] - 0.5 * sent[whole]).max() < 1e-7
    assert not aligned[: max(0, -late)].any()
    (stage,) = open_entry(tmp_path / "steps", came.key).stages
    (returned,) = stage.returned
    assert returned.offset_frames == late
    assert not returned.inverted
    assert returned.audio_sha256 == came.audio_sha256


def test_a_tail_and_an_output_trim_are_heard(pool, tmp_path, sent):
    setup = replace(TAPE, tail_s=0.5, output_trim_db=-6.0)
    got = np.concatenate([sent, np.full((RATE_HZ, 2), 0.25, np.float32)])
    aligned = samples(tmp_path, taken(pool, tmp_path, sent, got, setup))
    assert len(aligned) == len(sent) + RATE_HZ // 2
    assert np.allclose(aligned[len(sent) :], 0.25 * 10 ** (-6 / 20))


def test_the_file_that_came_back_is_not_touched(pool, tmp_path, sent):
    taken(pool, tmp_path, sent, sent)
    assert inspect(tmp_path / "tape back.wav").frames == len(sent)


def silenced(s, start_s, end_s):
    out = s.copy()
    out[round(start_s * RATE_HZ) : round(end_s * RATE_HZ)] = 0
    return out


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda s: 0.1 * np.random.default_rng(8).standard_normal(s.shape).astype(np.float32), "not like what was"),
        (lambda s: 0 * s, "it is silent"),
        (lambda s: s[: len(s) // 2], "it ends 0:10.0 before the music does"),
        (lambda s: s[5 * RATE_HZ :], "it begins 0:05.0 after the music does"),
        (lambda s: silenced(s, 10, 16), "it is not what was sent out at 0:1"),
        (lambda s: s[:, ::-1], "left and right are the other way round"),
        (lambda s: s * np.float32([1, 0]), "the right channel is silent"),
        (lambda s: resample_poly(s, 201, 200).astype(np.float32), "not like|runs off|not what"),
    ],
    ids=["another music", "silent", "cut short", "no head", "a hole", "swapped", "one channel", "another speed"],
)  # fmt: skip
def test_what_cannot_be_it_is_refused(pool, tmp_path, sent, make, words):
    with pytest.raises(AudioFileError, match=words):
        taken(pool, tmp_path, sent, make(sent))


@pytest.mark.parametrize("seconds", [4, 20])
def test_another_clock_is_told(pool, tmp_path, sent, seconds):
    """100 parts in a million: 2 ms over 20 s."""
    short = sent[: seconds * RATE_HZ]
    came = taken(pool, tmp_path, short, resample_poly(short, 10001, 10000).astype(np.float32))
    (note,) = (note for note in came.notes if "runs off by" in note)
    told, whole = float(note.split("runs off by ")[1].split()[0]), seconds * 4.41
    assert 0.4 * whole < told < 1.05 * whole  # between the outermost places that were listened to


def test_a_recording_on_the_same_clock_is_told_nothing_of(pool, tmp_path, sent):
    assert taken(pool, tmp_path, sent, 0.7 * np.pad(sent, ((300, 0), (0, 0)))).notes == ()


def test_turned_polarity_is_turned_back_where_the_stage_says_so(pool, tmp_path, sent):
    came = taken(pool, tmp_path, sent, -sent, replace(TAPE, inverted=True))
    assert np.abs(samples(tmp_path, came) - sent).max() < 1e-7
    assert any("it is turned back" in note for note in came.notes)


@pytest.mark.parametrize("side", ["left", "right"])
def test_one_channel_turned_over_is_told_and_not_taken_for_another_music(pool, tmp_path, sent, side):
    """Both channels together would half cancel, and be like nothing."""
    got = sent * np.where([side == "left", side == "right"], -1, 1).astype(np.float32)
    came = taken(pool, tmp_path, sent, got)
    (note,) = came.notes
    assert f"the {side} channel of what came back is turned over" in note
    assert np.array_equal(samples(tmp_path, came), got)
    assert not open_entry(tmp_path / "steps", came.key).stages[0].returned[0].inverted


@pytest.mark.parametrize("seed", range(4))
def test_a_channel_of_noise_says_nothing_of_the_polarity(pool, tmp_path, sent, seed):
    """The right channel holds the noise of the way there alone, another one each time."""
    hiss = 1e-3 * np.random.default_rng([seed, 1]).standard_normal((2, len(sent)))
    out = np.stack([sent[:, 0], hiss[0]], axis=1).astype(np.float32)
    back = np.stack([-sent[:, 0], hiss[1]], axis=1).astype(np.float32)
    came = taken(pool, tmp_path, out, back)
    (note,) = came.notes
    assert "the polarity of what came back is turned round" in note


def test_left_and_right_of_a_narrow_mix_are_not_mistaken_either(pool, tmp_path, sent):
    """Either channel is as like the other as what came back is to what was sent: what is left over tells."""
    narrow = sent.mean(axis=1, keepdims=True) + 0.1 * sent
    assert taken(pool, tmp_path, narrow, narrow).notes == ()
    (tmp_path / "swapped").mkdir()
    with pytest.raises(AudioFileError, match="left and right are the other way round"):
        taken(pool, tmp_path / "swapped", narrow, np.tanh(2 * narrow[:, ::-1]))


def test_a_file_of_a_few_frames_is_no_accident(pool, tmp_path, sent):
    """A hundred frames: one of them is like anything, three times them all is taken from its beginning."""
    with pytest.raises(AudioFileError, match="nothing in it is like that"):
        taken(pool, tmp_path, sent[:100], sent[:1])
    (tmp_path / "three").mkdir()
    loop = np.tile(sent[:100], (3, 1))
    assert np.array_equal(samples(tmp_path / "three", taken(pool, tmp_path / "three", sent[:100], loop)), sent[:100])


def test_a_converter_driven_over_is_told(pool, tmp_path, sent):
    soundfile.write(tmp_path / "loud.wav", np.clip(20 * sent, -1, 1), RATE_HZ, subtype="PCM_24")
    came = taken(pool, tmp_path, sent, soundfile.read(tmp_path / "loud.wav", dtype="float32")[0])
    assert any("at full scale" in note for note in came.notes)


def test_another_rate_is_refused(pool, tmp_path, sent):
    with pytest.raises(AudioFileError, match="48000 Hz, and 44100 Hz was sent out"):
        taken(pool, tmp_path, sent, sent, rate_hz=48000)
