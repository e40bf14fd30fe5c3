"""What a stage's watcher says of made-up stages, and that it says nothing of real plugins on real music.

What trial versions do (noise, beeps, gaps) is common practice, no source. Plugins: Debian's zam-plugins; music:
Debian's drascula-music and singularity-music.
"""

from __future__ import annotations

import behaviour_tasks
import numpy as np
import pytest
from behaviour_tasks import BLOCK, RATE_HZ, Shown, Watched
from plugin_fixtures import PACKAGED, done
from scipy.signal import fftconvolve
from trial_probes import trial_probes

from sweeper.host import behaviour
from sweeper.host.finding import Finding

#: What is put into the tune comes between its beats.
OFF_BEAT_S = 0.1


def watched(went_in: np.ndarray, came_out: np.ndarray, block: int = BLOCK, late: int = 0) -> dict[str, Finding]:
    """The findings by kind; late: so many frames of each output block come with the next one, as from a delay."""
    watch = behaviour.start(RATE_HZ)
    given = 0
    for at in range(0, went_in.shape[1] + late, block):
        reach = max(given, min(came_out.shape[1], at + block - late))
        watch = behaviour.advance(watch, went_in[:, at : at + block], came_out[:, given:reach])
        given = reach
    return {finding.kind: finding for finding in behaviour.finish(watch)}


def tune(seconds: float = 25.0, seed: int = 1) -> np.ndarray:
    """Notes and drums over soft noise, as music has them: (2, frames) float32, about -20 dBFS."""
    rng = np.random.default_rng(seed)
    frames = round(seconds * RATE_HZ)
    made = rng.standard_normal((2, frames)) * 1e-3
    for beat in np.arange(0, seconds - 0.6, 0.25):
        at = round(beat * RATE_HZ)
        t = np.arange(round(0.5 * RATE_HZ)) / RATE_HZ
        note = np.sin(2 * np.pi * rng.choice([110, 220, 330, 440, 660]) * t) * np.exp(-6 * t)
        drum = np.sin(2 * np.pi * 60 * t) * np.exp(-20 * t) + 0.1 * rng.standard_normal(len(t)) * np.exp(-60 * t)
        made[:, at : at + len(t)] += rng.uniform(0.05, 0.3) * note + 0.3 * drum
    return made.astype(np.float32)


def at_places(sound: np.ndarray, every_s: float, lasts_s: float) -> list[slice]:
    frames = round(lasts_s * RATE_HZ)
    starts = (np.arange(every_s, sound.shape[1] / RATE_HZ - lasts_s, every_s) + OFF_BEAT_S) * RATE_HZ
    return [slice(int(at), int(at) + frames) for at in starts]


def with_noise(sound: np.ndarray, level_dbfs: float, every_s: float = 3.0, lasts_s: float = 0.2) -> np.ndarray:
    out, rng = sound.copy(), np.random.default_rng(2)
    for place in at_places(sound, every_s, lasts_s):
        out[:, place] += (rng.standard_normal(out[:, place].shape) * 10 ** (level_dbfs / 20)).astype(np.float32)
    return out


def with_beeps(sound: np.ndarray, level_dbfs: float) -> np.ndarray:
    out = sound.copy()
    for place in at_places(sound, 5.0, 0.5):
        t = np.arange(place.stop - place.start) / RATE_HZ
        out[:, place] += (np.sin(2 * np.pi * 1000 * t) * 2**0.5 * 10 ** (level_dbfs / 20)).astype(np.float32)
    return out


def with_gaps(sound: np.ndarray, every_s: float = 4.0, lasts_s: float = 0.5) -> np.ndarray:
    out = sound.copy()
    for place in at_places(sound, every_s, lasts_s):
        out[:, place] = 0
    return out


def reverberant(sound: np.ndarray, seconds: float = 2.0) -> np.ndarray:
    rng = np.random.default_rng(3)
    frames = round(seconds * RATE_HZ)
    room = rng.standard_normal((2, frames)) * np.exp(-np.arange(frames) * 6.9 / frames)
    room /= np.sqrt((room**2).sum(axis=1, keepdims=True))
    return fftconvolve(sound, room, axes=1)[:, : sound.shape[1]].astype(np.float32)


def echoing(sound: np.ndarray, dry: float = 1.0, delay_s: float = 1.3) -> np.ndarray:
    out, frames = dry * sound, round(delay_s * RATE_HZ)
    for number in range(1, 8):
        out[:, number * frames :] += sound[:, : -number * frames] * 0.7 ** (number - 1)
    return out.astype(np.float32)


def gated(sound: np.ndarray, least: float = 0.03, upside_down: bool = False) -> np.ndarray:
    """Shut, at once and wholly, wherever the last 20 ms were below `least`; upside_down: wherever they were above."""
    size = round(0.02 * RATE_HZ)
    loud = np.sqrt(np.convolve((sound**2).mean(axis=0), np.ones(size) / size)[: sound.shape[1]]) > least
    return (sound * (loud ^ upside_down)).astype(np.float32)


def with_pause(sound: np.ndarray) -> np.ndarray:
    out = sound.copy()
    out[:, 8 * RATE_HZ : 20 * RATE_HZ] = 0
    return out


@pytest.mark.parametrize("stage", [lambda s: s, lambda s: 0.25 * s], ids=["as it is", "-12 dB"])
def test_bursts_of_noise_are_found_each_at_its_place(stage):
    music = tune()
    found = watched(music, with_noise(stage(music), -14.0))
    assert set(found) == {"bursts"}
    assert list(found["bursts"].at_s) == pytest.approx(OFF_BEAT_S + np.arange(3, 25, 3), abs=0.05)
    assert found["bursts"].words == ("put out 8 bursts that its input does not explain, at 0:03.1, 0:06.1, 0:09.1 ...; "
                                     "a plugin without a licence does that")  # fmt: skip


def test_most_bursts_are_found_among_reverberation():
    found = watched(tune(), with_noise(reverberant(tune()), -14.0))["bursts"].at_s
    assert len(found) >= 6
    assert {round((at_s - OFF_BEAT_S) % 3, 1) for at_s in found} <= {0.0, 3.0}


def test_beeps_are_found():
    music = tune()
    assert watched(music, with_beeps(music, -6.0))["bursts"].at_s == pytest.approx((5.1, 10.1, 15.1, 20.1), abs=0.05)


def test_a_burst_in_silence_is_found_once_every_echo_has_died():
    music = tune()
    music[:, 5 * RATE_HZ :] = 0
    out = with_noise(music, -30.0, every_s=18.0)
    assert watched(music, out)["bursts"].at_s == pytest.approx((18.1,), abs=0.05)


def test_gaps_are_found_each_at_its_place():
    music = tune()
    found = watched(music, with_gaps(music))
    assert set(found) == {"drop-outs"}
    assert found["drop-outs"].at_s == pytest.approx((4.1, 8.1, 12.1, 16.1, 20.1, 24.1), abs=0.15)
    assert found["drop-outs"].words.startswith("fell silent 6 times where its input did not, at 0:0")


def test_silence_and_an_unchanged_output_are_told_apart_from_a_gain():
    music = tune(3)
    assert set(watched(music, 0 * music)) == {"silent"}
    assert set(watched(music, music.copy())) == {"dry"}
    assert watched(music, music.copy())["dry"].words == "changed nothing: its output is its input"
    assert watched(music, 0.999 * music) == watched(music, -music) == watched(music, 4 * music) == {}
    assert watched(0 * music, 0 * music) == {}, "nothing is expected of silence"


def test_what_a_delay_keeps_back_is_no_difference():
    music = tune(3)
    assert set(watched(music, music.copy(), block=4096, late=3000)) == {"dry"}


@pytest.mark.parametrize("block", [1024, 5000, RATE_HZ])
def test_it_does_not_depend_on_the_blocks(block):
    music = tune(12)
    out = with_gaps(with_noise(music, -10.0), every_s=5.0)
    assert watched(music, out, block) == watched(music, out, 43 * 1024)


def with_dust(sound: np.ndarray) -> np.ndarray:
    """Noise in the middle of every beat, as a gated exciter might add."""
    out, rng = sound.copy(), np.random.default_rng(4)
    for place in at_places(sound, 0.25, 0.1):
        out[:, place] += 0.2 * rng.standard_normal(out[:, place].shape)
    return out


def with_swells(sound: np.ndarray) -> np.ndarray:
    """Noise that comes and goes within seconds, as what breathes does."""
    rng, t = np.random.default_rng(5), np.arange(sound.shape[1]) / RATE_HZ
    return sound + 0.3 * rng.standard_normal(sound.shape) * np.sin(np.pi * t / 12) ** 64


STAGES = {
    "dust on every beat": with_dust, "slow swells": with_swells,
    "clipping": lambda s: np.clip(12 * s, -0.5, 0.5), "saturation": lambda s: np.tanh(8 * s),
    "half-wave": lambda s: np.maximum(0, 4 * s), "reverb": reverberant, "echo": echoing,
    "echo alone": lambda s: echoing(s, 0), "gate": gated, "gate at the peaks": lambda s: gated(s, 0.15),
    "inverse gate": lambda s: 6 * gated(s, 0.03, True), "one channel": lambda s: s * np.array([[1], [0]]),
    "low pass": lambda s: fftconvolve(s, np.ones((1, 400)) / 400, axes=1)[:, : s.shape[1]],
}  # fmt: skip


@pytest.mark.parametrize("stage", STAGES)
@pytest.mark.parametrize("break_up", [lambda s: s, with_pause], ids=["", "with a pause"])
def test_what_processors_do_is_no_fault(stage, break_up):
    music = break_up(tune())
    assert watched(music, STAGES[stage](music).astype(np.float32)) == {}


#: One of each kind; the others are long.
ONE_OF_A_KIND = ("ZamCompX2", "ZamDelay", "ZaMaximX2", "ZamTube")
PLUGINS = [pytest.param(path.stem, marks=[] if path.stem in ONE_OF_A_KIND else [pytest.mark.long])
           for path in sorted(PACKAGED.glob("Za*.vst3"))]  # fmt: skip


@pytest.mark.parametrize("name", PLUGINS)
@pytest.mark.long
def test_no_false_alarm_of_a_real_plugin_in_extreme_settings_on_real_music(pool, music, name):
    order = Watched(str(PACKAGED / f"{name}.vst3"), (music["track5"], music["Enemy Unknown"]), 8.0, (0, 1, 2))
    found: list[Shown] = done(pool, "behaviour_tasks:watched", order)  # type: ignore[assignment]
    assert len(found) == 6
    assert [shown for shown in found if {f.kind for f in shown.findings} & {"bursts", "drop-outs"}] == []
    assert any(shown.findings == () for shown in found), "and its output was more than silence"


def test_the_packaged_plugins_are_all_here():
    assert len(list(PACKAGED.glob("Za*.vst3"))) == 17


def test_a_plugin_without_a_licence_is_found_on_real_music(pool, music, tmp_path):
    probes = trial_probes(tmp_path)
    kinds = {"noise": "bursts", "beep": "bursts", "mute": "drop-outs", "silent": "silent", "dry": "dry"}
    for mode, kind in kinds.items():
        order = Watched(str(probes[mode]), (music["track27"],), 10.0, (0,))
        (shown,) = done(pool, "behaviour_tasks:watched", order)  # type: ignore[misc]
        assert [finding.kind for finding in shown.findings] == [kind], mode
        if kind in ("bursts", "drop-outs"):
            places = {round(at_s) for at_s in shown.findings[0].at_s}
            assert places and places <= {3, 6, 9}, mode


@pytest.mark.parametrize("rate_hz", [8000, 11025, 192000, 768000])
def test_any_rate_is_watched(rate_hz):
    sound = tune(2.0)
    watch = behaviour.start(rate_hz)
    watch = behaviour.advance(watch, sound, sound * np.float32(0.5))
    assert {finding.kind for finding in behaviour.finish(watch)} <= {"gain"}


def test_watching_costs_less_than_a_hundredth_of_playing_it():
    """By the process's own time, so that others at work do not count: under 2 ms for a second of music."""
    assert behaviour_tasks.cost(tune(6)) < 0.002
