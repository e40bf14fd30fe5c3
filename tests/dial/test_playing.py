"""What is heard of a stage: quiet at first, never clipped, bypassed at the same loudness."""

from __future__ import annotations

import itertools
import threading
import time
from dataclasses import dataclass, field

import numpy as np
import pytest

from sweeper.audio.format import AudioFormat
from sweeper.dial import matching
from sweeper.dial.playing import RETURN_DB_PER_S, Mixer, Playing
from sweeper.dial.signs import Signs
from sweeper.errors import PluginError

FORMAT = AudioFormat(2, 48000)
BLOCK = 1024
#: How long the loop is, where it matters.
LAP = 50 * BLOCK


@dataclass
class FakeStage:
    """A gain whose delay is taken out of what comes back: nothing comes before so many frames have gone in."""

    factor: float = 1.0
    delay: int = 0
    format: AudioFormat = FORMAT
    label: str = "'glue' (Fake)"
    held: list[np.ndarray] = field(default_factory=lambda: [np.zeros((2, 0), np.float32)])
    given: int = 0

    def push(self, block):
        self.held[0] = np.concatenate((self.held[0], block), axis=1)
        first, self.given = self.given, max(self.given, self.held[0].shape[1] - self.delay)
        return self.held[0][:, first : self.given] * np.float32(self.factor)


@dataclass
class FakeSpeakers:
    """Takes what is played, at no pace; after `lost` blocks there is nothing to hear it on."""

    blocks: list[np.ndarray] = field(default_factory=list)
    lost: int = 10**9
    trouble: str = ""

    def __enter__(self):
        return self

    def __exit__(self, *ending):
        return None

    def play(self, block):
        self.blocks.append(block)
        if len(self.blocks) >= self.lost:
            self.trouble = "unplugged"
        time.sleep(0.0005)


def noise(blocks: int, level: float = 0.05) -> list[np.ndarray]:
    rng = np.random.default_rng(3)
    return [(rng.standard_normal((2, BLOCK)) * level).astype(np.float32) for _ in range(blocks)]


def rms_db(block: np.ndarray) -> float:
    return float(10 * np.log10(np.square(block).mean()))


def test_it_starts_20_db_down_and_comes_up_within_two_seconds():
    mixer, sound = Mixer(FakeStage(), LAP), noise(150)
    heard = [mixer.next(block, False) for block in sound]
    level_db = [rms_db(out) - rms_db(block) for out, block in zip(heard, sound, strict=True)]
    assert level_db[0] == pytest.approx(-20, abs=0.5)
    assert level_db[47] == pytest.approx(-10, abs=2)
    assert np.array_equal(heard[-1], sound[-1]) or level_db[-1] == pytest.approx(0, abs=0.01)
    assert all(later > before - 0.1 for before, later in itertools.pairwise(level_db))


@pytest.mark.parametrize("factor", [0.25, 4.0])
def test_bypassed_it_is_as_loud_as_before_and_below_full_scale(factor):
    mixer, sound = Mixer(FakeStage(factor), LAP), noise(50, 0.1) * 8
    heard = [mixer.next(block, False) for block in sound[:300]]
    bypassed = [mixer.next(block, True) for block in sound[300:]]
    assert mixer.matched_db == pytest.approx(20 * np.log10(factor), abs=0.01)
    with_stage, without = (np.concatenate(part[-90:], axis=1) for part in (heard, bypassed))
    assert rms_db(with_stage) == pytest.approx(rms_db(without), abs=0.2)
    assert max(np.abs(part).max() for part in (with_stage, without)) < 1.0, "nothing was cut off"


def test_what_comes_out_with_larger_peaks_is_turned_down_for_both():
    mixer, sound = Mixer(FakeStage(), LAP), noise(50, 0.1) * 4
    peaked = [block.copy() for block in sound]
    for block in peaked[::25]:
        block[:, 500] = 1.5  # too short to be louder
    given = iter(peaked)
    mixer._stage.push = lambda block: next(given)
    heard = [mixer.next(block, number >= 150) for number, block in enumerate(sound)]
    assert max(np.abs(block).max() for block in heard) < 1.0, "nothing was cut off"
    lowered_db = -20 * np.log10(1.5) - matching.ROOM_DB
    assert rms_db(heard[149]) - rms_db(peaked[149]) == pytest.approx(lowered_db, abs=0.01)
    assert rms_db(heard[199]) - rms_db(sound[199]) == pytest.approx(lowered_db, abs=0.1)


def test_once_the_loop_went_round_without_it_the_level_comes_back_slowly():
    stage, sound = FakeStage(), noise(50, 0.1)
    mixer = Mixer(stage, LAP)
    loud, end = 150, 1000
    level_db = []
    for number in range(end):
        stage.factor = 8.0 if loud <= number < loud + 50 else 1.0
        block = sound[number % 50]
        level_db.append(rms_db(mixer.next(block, False)) - rms_db(block * np.float32(stage.factor)))
    low_db = min(level_db[loud + 1 : loud + 50])
    assert low_db < -10
    quiet_again = loud + 50 + round(matching.WINDOW_S * 48000 / BLOCK)
    assert level_db[quiet_again + 49] == pytest.approx(low_db, abs=0.2), "not before the loop went round"
    per_s = np.diff(level_db[quiet_again:]) * 48000 / BLOCK
    assert 0 <= per_s.max() < RETURN_DB_PER_S * 1.05
    assert level_db[-1] == pytest.approx(0, abs=0.01)


def test_switching_does_not_click():
    stage = FakeStage(-1.0)  # the worst that can be switched between: the same sound upside down
    mixer, tone = Mixer(stage, LAP), np.cos(2 * np.pi * 100 * np.arange(BLOCK * 200) / 48000) * 0.5
    blocks = [np.tile(part, (2, 1)).astype(np.float32) for part in np.split(tone, 200)]
    heard = np.concatenate([mixer.next(block, number >= 150) for number, block in enumerate(blocks)], axis=1)
    slope = 0.5 * 2 * np.pi * 100 / 48000
    assert np.abs(np.diff(heard[0])).max() < 1.5 * slope


def test_a_delay_keeps_the_two_aligned():
    mixer, sound = Mixer(FakeStage(delay=700), LAP), noise(200)
    for block in sound[:150]:
        mixer.next(block, False)
    before = mixer.next(sound[150], False)
    mixer.next(sound[151], True)
    after = mixer.next(sound[152], True)
    whole = np.concatenate(sound, axis=1)
    for out, number in ((before, 150), (after, 152)):
        expected = whole[0, (number - 1) * BLOCK : number * BLOCK]
        assert np.corrcoef(out[0], expected)[0, 1] == pytest.approx(1.0, abs=1e-3)


def test_what_is_no_number_ends_it():
    with pytest.raises(PluginError, match=r"'glue' .* no number"):
        Mixer(FakeStage(float("nan")), LAP).next(noise(1)[0], False)


def test_the_loop_goes_round_and_signs_of_life_and_bypass_are_told(tmp_path):
    loop = np.arange(2 * 1500, dtype=np.float32).reshape(2, 1500) / 1e4
    signs, speakers = Signs(tmp_path), FakeSpeakers()
    told: list[bool] = []
    beaten, bypassed = threading.Event(), threading.Event()

    def tell(is_bypassed: bool, gain_db: float) -> None:
        told.append(is_bypassed)
        bypassed.set()

    stage = FakeStage()
    seen: list[np.ndarray] = []
    push = stage.push
    stage.push = lambda block: (seen.append(block), push(block))[1]
    playing = Playing(stage, loop, BLOCK, signs, speakers, tell, lambda trouble: None, beaten.set)
    playing.start()
    assert beaten.wait(10)
    for expected in (True, False):
        bypassed.clear()
        signs.toggle_bypass()
        assert bypassed.wait(10)
        assert told[-1] is expected
    playing.stop()
    assert playing.failed is None
    went_in = np.concatenate(seen, axis=1)
    assert np.array_equal(went_in, np.tile(loop, (1, went_in.shape[1] // 1500 + 1))[:, : went_in.shape[1]])


@pytest.mark.parametrize(
    ("raised", "kind", "words"),
    [(RuntimeError("boom"), PluginError, "'glue' (Fake) failed while it played: boom"),
     (PluginError("a word"), PluginError, "a word"), (IndexError("ours"), IndexError, "ours")],
)  # fmt: skip
def test_what_is_raised_is_kept_for_whoever_waits_and_what_the_plugin_raises_is_laid_to_it(
    tmp_path, raised, kind, words
):
    stage = FakeStage()

    def push(block):
        raise raised

    stage.push = push
    playing = Playing(stage, noise(1)[0], BLOCK, Signs(tmp_path), FakeSpeakers(), lambda *a: None, lambda trouble: None,
                      lambda: None)  # fmt: skip
    playing.start()
    playing._thread.join(10)
    assert words in str(playing.failed)
    assert isinstance(playing.failed, kind)


@pytest.mark.parametrize(("speakers", "told"), [(FakeSpeakers(lost=3), ["unplugged"]),
                                                (FakeSpeakers(trouble="no device"), [])])  # fmt: skip
def test_a_device_that_is_lost_is_told_at_once_and_one_that_never_was_there_is_not_told_again(
    tmp_path, speakers, told
):
    heard: list[tuple[str, int]] = []
    played = threading.Event()

    def lost(trouble: str) -> None:
        heard.append((trouble, len(speakers.blocks)))

    def beat() -> None:
        if len(speakers.blocks) > 10:
            played.set()

    playing = Playing(FakeStage(), noise(1)[0], BLOCK, Signs(tmp_path), speakers, lambda *a: None, lost, beat)
    playing.start()
    assert played.wait(10)
    playing.stop()
    assert [trouble for trouble, _ in heard] == told
    assert all(blocks == 3 for _, blocks in heard)
