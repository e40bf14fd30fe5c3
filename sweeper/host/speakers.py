"""Where a listener hears what a worker plays: an audio device, or none. Imported in workers only."""

from __future__ import annotations

import time
from types import TracebackType
from typing import Any

import numpy as np
from pedalboard import io

#: What the driver may hold: more, and a click on bypass is heard late.
_BUFFER_FRAMES = 1024

#: How far behind its time the silent loop may be and still catch up.
_LATE_S = 0.5


class Speakers:
    """Plays blocks in real time, one after the other; without a device it only takes the time. A context manager.

    name: the device's, "" where there is none. trouble: why a device that is there is not used.
    """

    def __init__(self, channels: int, rate_hz: int) -> None:
        self.name = ""
        self.trouble = ""
        self._rate_hz = rate_hz
        self._stream: Any = None
        self._resampler: Any = None
        self._due_s = 0.0
        try:
            name = io.AudioStream.default_output_device_name
            if name:
                self._stream = io.AudioStream(output_device_name=name, sample_rate=rate_hz,
                                              buffer_size=_BUFFER_FRAMES, num_output_channels=channels)  # fmt: skip
                if round(self._stream.sample_rate) != rate_hz:
                    self._resampler = io.StreamResampler(rate_hz, self._stream.sample_rate, channels)
                self.name = str(name)
        except (RuntimeError, ValueError, OSError) as exc:
            self._fall_silent(exc)

    def __enter__(self) -> Speakers:
        if self._stream is not None:
            try:
                self._stream.__enter__()
            except (RuntimeError, ValueError, OSError) as exc:
                self._fall_silent(exc)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._stream is not None:
            self._stream.__exit__(kind, error, trace)

    def play(self, block: np.ndarray) -> None:
        """Play (channels, frames) float32; comes back when the next block is due."""
        if self._stream is not None:
            try:
                self._write(block)
            except (RuntimeError, ValueError, OSError) as exc:
                self._fall_silent(exc)
            else:
                return
        now_s = time.monotonic()
        if self._due_s < now_s - _LATE_S:  # the first block, or somebody was away: nothing is made up for
            self._due_s = now_s
        self._due_s += block.shape[1] / self._rate_hz
        time.sleep(max(0.0, self._due_s - now_s))

    def _write(self, block: np.ndarray) -> None:
        if self._resampler is not None:
            block = self._resampler.process(block)
        if block.shape[1]:
            self._stream.write(np.ascontiguousarray(block, np.float32), self._stream.sample_rate)

    def _fall_silent(self, exc: Exception) -> None:
        self.trouble = f"{self.name or 'the audio device'} cannot be used: {exc}"
        self.name, self._stream = "", None
