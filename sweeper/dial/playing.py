"""The loop at play through a stage, in a thread beside the window's. Runs in workers."""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable

import numpy as np

from sweeper.dial import matching
from sweeper.dial.signs import Signs
from sweeper.errors import PluginError
from sweeper.host.fifo import Fifo
from sweeper.host.speakers import Speakers
from sweeper.host.stage import HostedStage
from sweeper.units import gain

#: Nobody is startled: the sound comes up from here in so many seconds.
QUIET_DB, RISE_S = -20.0, 2.0
#: How often the thread shows that it lives.
BEAT_EVERY_S = 0.5
#: Turned down for what would clip, it comes up again no faster than so. Ours, not tried otherwise.
RETURN_DB_PER_S = 1.0
#: How much of the way the level may rise from one block to the next. Ours, not tried otherwise.
_GLIDE = 0.2


class _Lowered:
    """How far the sound is turned down: at once for what would clip, and back once the loop went round without it.

    Not before: or the level would move with the music, each time round.
    """

    def __init__(self, lap_frames: int, rate_hz: int) -> None:
        self._lap_frames, self._rate_hz = lap_frames, rate_hz
        self._at = 0
        self._needs: deque[tuple[int, float]] = deque()  # the last lap's, (frame, dB), without what a later one exceeds
        self._low_db = 0.0

    def next(self, need_db: float, frames: int) -> float:
        """The level of a block, dB, for which so much is needed."""
        self._at += frames
        while self._needs and self._needs[-1][1] >= need_db:
            self._needs.pop()
        self._needs.append((self._at, need_db))
        while self._needs[0][0] < self._at - self._lap_frames:
            self._needs.popleft()
        self._low_db = min(self._needs[0][1], self._low_db + RETURN_DB_PER_S * frames / self._rate_hz)
        return self._low_db


class Mixer:
    """What is heard of a stage: its output, or its input at the same loudness, both low enough not to clip.

    lap_frames: how long the loop is. What gets louder all at once is cut off for a block at most.
    """

    def __init__(self, stage: HostedStage, lap_frames: int) -> None:
        self._stage = stage
        self._heard = matching.start(stage.format)
        self._dry, self._wet = Fifo(stage.format.channels), Fifo(stage.format.channels)
        self._frames = 0
        self._lowered = _Lowered(lap_frames, stage.format.rate_hz)
        self._level = gain(QUIET_DB)
        self._share = 0.0  # of the bypassed sound

    @property
    def matched_db(self) -> float:
        """The gain of the bypassed sound, dB."""
        return matching.bypass_gain_db(self._heard)

    def next(self, block: np.ndarray, bypassed: bool) -> np.ndarray:
        """One block (channels, frames) float32 in, one out; silence while the stage's delay fills.

        Raises PluginError when the plugin fails, or the stage gives a sample that is no number.
        """
        frames = block.shape[1]
        made = self._made(block)
        if not np.isfinite(made).all():
            raise PluginError(f"{self._stage.label} gave a sample that is no number", "dial it another way")
        self._dry.add(block)
        self._wet.add(made)
        if self._wet.frames < frames:
            return np.zeros_like(block)
        dry, wet = self._dry.take(frames), self._wet.take(frames)
        self._heard = matching.heard(self._heard, dry, wet)
        low_db = self._lowered.next(matching.headroom_db(self._heard), frames)
        self._frames += frames
        return self._mixed(dry, wet, bypassed, low_db)

    def _made(self, block: np.ndarray) -> np.ndarray:
        try:
            return self._stage.push(block)
        except RuntimeError as exc:  # what the library makes of whatever a plugin throws
            raise PluginError(f"{self._stage.label} failed while it played: {exc}", "dial it another way") from exc

    def _mixed(self, dry: np.ndarray, wet: np.ndarray, bypassed: bool, low_db: float) -> np.ndarray:
        """One becomes the other, and louder becomes lower, within the block: no click."""
        frames = dry.shape[1]
        rise_db = QUIET_DB * max(0.0, 1.0 - self._frames / (RISE_S * self._stage.format.rate_hz))
        aim = gain(rise_db + low_db)
        level = min(aim, self._level + (aim - self._level) * _GLIDE)
        share = np.linspace(self._share, float(bypassed), frames)
        mixed = dry * gain(self.matched_db) * share + wet * (1.0 - share)
        out: np.ndarray = np.clip(mixed * np.linspace(self._level, level, frames), -1.0, 1.0).astype(np.float32)
        self._level, self._share = level, float(bypassed)
        return out


class Playing:
    """The thread that plays. failed: why it ended by itself; None while it plays, or was stopped.

    told: gets True or False, and the gain in dB, when the stage is bypassed or comes back. lost: gets the trouble of
    speakers that had none at first, as it comes. beat: a sign of life.
    """

    def __init__(self, stage: HostedStage, loop: np.ndarray, block_frames: int, signs: Signs, speakers: Speakers,
                 told: Callable[[bool, float], None], lost: Callable[[str], None],
                 beat: Callable[[], None]) -> None:  # fmt: skip
        self.failed: Exception | None = None
        self._mixer = Mixer(stage, loop.shape[1])
        self._loop = loop
        self._block_frames = block_frames
        self._signs, self._speakers = signs, speakers
        self._told, self._lost, self._beat = told, lost, beat
        self._trouble = speakers.trouble
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def stop(self) -> None:
        """End, and wait for it."""
        self._stop.set()
        self._thread.join()

    def _run(self) -> None:
        try:
            with self._speakers:
                self._play()
        except Exception as exc:  # noqa: BLE001 - raised again where the window is opened, which waits for it
            self.failed = exc

    def _play(self) -> None:
        at, bypassed, beat_s = 0, False, 0.0
        frames = self._loop.shape[1]
        wanted = np.arange(self._block_frames)
        while not self._stop.is_set():
            block = np.ascontiguousarray(self._loop[:, (at + wanted) % frames])
            at = (at + self._block_frames) % frames
            if self._signs.bypassed != bypassed:
                bypassed = not bypassed
                self._told(bypassed, self._mixer.matched_db)
            self._speakers.play(self._mixer.next(block, bypassed))
            if self._speakers.trouble != self._trouble:
                self._trouble = self._speakers.trouble
                self._lost(self._trouble)
            if time.monotonic() - beat_s >= BEAT_EVERY_S:
                beat_s = time.monotonic()
                self._beat()
