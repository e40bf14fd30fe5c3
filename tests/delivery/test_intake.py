"""Every finding of intake: found where it is put in, and not where it is not."""

from __future__ import annotations

import numpy as np
import pytest
import soundfile
import soxr
from looked import RATE_HZ, Quiet, finding, good_mix, looked
from scipy import signal

from sweeper.delivery.intake import listening
from sweeper.delivery.intake.finding import Verdict, at
from sweeper.delivery.intake.listening import IntakeOrder, look_over
from sweeper.errors import AudioFileError

GOOD = good_mix(3.0)
LEFT, RIGHT = GOOD
NOISE = np.random.default_rng(3).standard_normal((2, RATE_HZ))
SILENCE = np.zeros((2, RATE_HZ))


@pytest.fixture(scope="module")
def good(tmp_path_factory):
    return looked(tmp_path_factory.mktemp("good"), GOOD)


@pytest.fixture
def without_traces(monkeypatch):
    """The search for a coder's blocks takes most of the time, and is tested by itself."""
    monkeypatch.setattr(listening, "coding_grid", lambda *_: None)


def test_a_good_mix_is_ok_in_everything(good):
    assert [one.key for one in good.findings if one.verdict is not Verdict.OK] == []
    assert good.verdict is Verdict.OK
    assert {one.key for one in good.findings} == {
        "format", "rate", "word_length", "headroom", "clipping", "intersample", "dc", "head", "tail", "channels",
        "polarity", "balance", "correlation", "mono_loss", "low_end", "coding", "upsampling", "loudness"}  # fmt: skip


def loud(db, samples=GOOD):
    return samples * 10 ** (db / 20)


def narrow_between():
    """A burst whose samples stay under full scale, and which passes it between them (BS.1770-5, Annex 2)."""
    out = GOOD.copy()
    out[:, 60000:60200] = 1.2 * np.sin(np.pi / 2 * np.arange(200) + np.pi / 4) * np.hanning(200)
    return out


def out_of_phase_bass():
    bass = 0.2 * np.sin(2 * np.pi * 55 / RATE_HZ * np.arange(LEFT.size))
    quiet = signal.sosfilt(signal.butter(4, 200, "highpass", fs=RATE_HZ, output="sos"), GOOD, axis=1)
    return quiet + np.stack([bass, -bass])


def one_flat_top():
    out = 0.5 * GOOD
    out[0, RATE_HZ : RATE_HZ + 8] = 0.9
    return out


PUT_IN = [
    ("clipping", Verdict.STOP, np.clip(loud(15), -0.9, 0.9), "flat tops at -0.9"),
    ("clipping", Verdict.LOOK, one_flat_top(), "1 flat top at -0.92 dBFS, the longest of 8 samples"),
    ("headroom", Verdict.LOOK, np.clip(loud(8), -1, 1), "samples at full scale"),
    ("headroom", Verdict.STOP, SILENCE, "digital silence"),
    ("intersample", Verdict.LOOK, narrow_between(), "above full scale in 1 place, at 0:01.3"),
    ("dc", Verdict.LOOK, GOOD + 0.003, "-50.4 dBFS"),
    ("dc", Verdict.STOP, GOOD + 0.02, " dBFS"),
    ("head", Verdict.LOOK, GOOD[:, 30000:], "begins in the middle of a sound"),
    ("tail", Verdict.LOOK, GOOD[:, :-30000], "ends in the middle of a sound"),
    ("head", Verdict.LOOK, np.concatenate((np.zeros((2, 4 * RATE_HZ)), GOOD), axis=1), "0:04.0 of digital silence"),
    ("tail", Verdict.LOOK, np.concatenate((GOOD, np.zeros((2, 11 * RATE_HZ))), axis=1), "0:11.0 of digital silence"),
    ("head", Verdict.LOOK, np.concatenate((3e-4 * NOISE, GOOD), axis=1),
     "s of noise at -70 dBFS before the music"),
    ("channels", Verdict.STOP, np.stack([LEFT, 0 * LEFT]), "the right channel is dead"),
    ("channels", Verdict.STOP, np.stack([1e-5 * LEFT, RIGHT]), "the left channel is dead"),
    ("channels", Verdict.LOOK, np.stack([LEFT, LEFT]), "mono in two channels"),
    ("polarity", Verdict.STOP, np.stack([LEFT, -LEFT]), "sample for sample"),
    ("polarity", Verdict.STOP, np.stack([LEFT, -RIGHT]), "one channel seems turned over"),
    ("balance", Verdict.LOOK, np.stack([LEFT, 0.7 * RIGHT]), "left is louder by 3.1 dB"),
    ("balance", Verdict.STOP, np.stack([0.4 * LEFT, RIGHT]), "right is louder by 8.0 dB"),
    ("low_end", Verdict.STOP, out_of_phase_bass(), "below 120 Hz the correlation is -1.00"),
    ("loudness", Verdict.LOOK, 0.9 * np.tanh(20 * GOOD), "it is limited already"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("key", "verdict", "samples", "said"), PUT_IN, ids=[f"{one[0]}-{n}" for n, one in enumerate(PUT_IN)]
)
def test_what_is_put_in_is_found(tmp_path, without_traces, key, verdict, samples, said):
    found = looked(tmp_path, samples)
    one = finding(found, key)
    assert one.verdict is verdict
    assert said is None or said in one.what
    assert one.why
    assert one.ask.startswith(("for ", "wh", "how "))
    assert found.verdict.weight >= verdict.weight


def test_wide_noise_loses_in_mono_and_is_told(tmp_path, without_traces):
    rng = np.random.default_rng(5)
    middle, side = rng.standard_normal((2, 4 * RATE_HZ)) * 0.1
    found = looked(tmp_path, np.stack([0.5 * middle + side, 0.5 * middle - side]))
    assert finding(found, "correlation").verdict is Verdict.LOOK
    # (L+R)/2 keeps 0.25 of 1.25 of the power: 7.0 dB
    assert finding(found, "mono_loss").figures["mono_loss_lu"] == pytest.approx(6.99, abs=0.1)
    assert finding(found, "mono_loss").verdict is Verdict.STOP


@pytest.mark.parametrize(
    ("bits", "subtype", "verdict", "said"),
    [
        (16, "PCM_16", Verdict.LOOK, "16 bit"),
        (16, "PCM_24", Verdict.LOOK, "24 bit in the file, and only 16 bits are used"),
        (16, "FLOAT", Verdict.LOOK, "float in the file, and only 16 bits are used"),
        (20, "PCM_24", Verdict.LOOK, "24 bit in the file, and 20 bits are used"),
        (14, "PCM_16", Verdict.LOOK, "only 14 bits are used"),
        (8, "PCM_24", Verdict.STOP, "only 8 bits are used"),
        (24, "PCM_24", Verdict.OK, "24 bit"),
    ],
)
def test_the_word_length_really_used_is_told(tmp_path, without_traces, bits, subtype, verdict, said):
    found = finding(
        looked(tmp_path, np.round(GOOD * 2 ** (bits - 1)) / 2 ** (bits - 1), subtype=subtype), "word_length"
    )
    assert (found.verdict, found.what) == (
        verdict,
        said + " (24 bit in the file)" * (bits == 8) + " (16 bit in the file)" * (bits == 14),
    )


def test_lossy_files_and_low_rates_stop(tmp_path, without_traces):
    soundfile.write(tmp_path / "a.ogg", GOOD.T, RATE_HZ)
    assert finding(look_over(IntakeOrder(tmp_path / "a.ogg"), Quiet()), "format").verdict is Verdict.STOP
    low = looked(tmp_path, GOOD[:, ::2], RATE_HZ // 2)
    assert finding(low, "rate").verdict is Verdict.STOP
    assert finding(looked(tmp_path, GOOD, 50000), "rate").verdict is Verdict.LOOK


@pytest.mark.long
def test_a_vorbis_source_in_a_wav_file_stops(tmp_path):
    soundfile.write(tmp_path / "a.ogg", GOOD.T, RATE_HZ)
    found = looked(tmp_path, soundfile.read(tmp_path / "a.ogg")[0].T)
    assert finding(found, "coding").verdict is Verdict.STOP
    assert "Vorbis" in finding(found, "coding").what


def low_passed(hz):
    return signal.fftconvolve(GOOD, signal.firwin(1501, hz, fs=RATE_HZ, window=("kaiser", 10.0))[None], "same", axes=1)


def test_a_steep_end_of_the_spectrum_is_told_as_coding_or_as_a_lower_rate(tmp_path, without_traces):
    coded = looked(tmp_path, low_passed(16000))
    assert finding(coded, "coding").verdict is Verdict.LOOK
    assert finding(coded, "coding").figures["edge_hz"] == pytest.approx(16000, abs=200)
    assert finding(coded, "upsampling").verdict is Verdict.OK
    raised = looked(tmp_path, soxr.resample(soxr.resample(GOOD.T, 48000, 44100), 44100, 48000).T)
    assert finding(raised, "upsampling").verdict is Verdict.LOOK
    assert "it was 44.1 kHz once" in finding(raised, "upsampling").what
    assert finding(raised, "coding").verdict is Verdict.OK
    twice = looked(tmp_path, soxr.resample(GOOD.T, 48000, 96000).T, 96000)
    assert "it was 48 kHz once" in finding(twice, "upsampling").what


def test_a_mono_mix_has_no_stereo_to_look_at(tmp_path, without_traces):
    found = looked(tmp_path, LEFT)
    assert finding(found, "channels").what == "one channel: no stereo to look at"
    assert found.verdict is Verdict.OK


def test_places_are_told_once_each_and_not_all():
    assert at(()) == ""
    assert at((1.0, 1.01, 2.0)) == "at 0:01.0, 0:02.0"
    assert at(tuple(map(float, range(9)))) == "at 0:00.0, 0:01.0, 0:02.0 and 6 more places"


def test_what_is_no_sound_is_refused(tmp_path):
    (tmp_path / "a.wav").write_text("hello")
    with pytest.raises(AudioFileError, match="a text file"):
        look_over(IntakeOrder(tmp_path / "a.wav"), Quiet())
    with pytest.raises(AudioFileError, match="a rate of 4000 Hz"):
        looked(tmp_path, GOOD, 4000)
