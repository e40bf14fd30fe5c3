"""What a print comes to before words are made: its true peak, the grid that the render lies on. Runs in workers."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator

import numpy as np

from sweeper.audio import AudioFormat, SoundFile, blocks, inspect
from sweeper.delivery.orders import Ahead, PrintOrder
from sweeper.delivery.signal_path import before_words, cut_for, rate_of
from sweeper.errors import AudioFileError
from sweeper.meter import true_peak, word_length
from sweeper.render.orders import FILE_BLOCK_FRAMES, FILE_PATIENCE_S
from sweeper.workers import Report


class _Watched:
    """The render's blocks on their way: their hash, and the grid that they lie on."""

    def __init__(self, render: SoundFile, report: Report) -> None:
        self.grid = word_length.start(render.format)
        self._render, self._report = render, report
        self._digest = hashlib.sha256()

    def blocks(self) -> Iterator[np.ndarray]:
        """The render, block by block."""
        done = 0
        for block in blocks(self._render, FILE_BLOCK_FRAMES):
            self._digest.update(np.ascontiguousarray(block.T, "<f4").data)
            self.grid = word_length.advance(self.grid, block)
            yield block
            done += block.shape[1]
            self._report.beat("", min(1.0, done / self._render.frames))

    @property
    def audio_sha256(self) -> str:
        """Of all samples that went by."""
        return self._digest.hexdigest()


def look_ahead(order: PrintOrder, report: Report) -> Ahead:
    """Play the render through the way of the print, and write nothing.

    Raises AudioFileError where the render is not the one that its sheet tells of, PrintError for edits that leave
    nothing.
    """
    report.phase(f"looking at {order.render.parent.name} for {order.spec.name}", FILE_PATIENCE_S)
    render = inspect(order.render)
    cut = cut_for(order.spec, order.edits, render)
    watched, rate_hz = _Watched(render, report), rate_of(order.spec, render)
    peak, highest = true_peak.start(AudioFormat(render.format.channels, rate_hz)), 0.0
    source = watched.blocks()
    for block in before_words(source, order.spec, render, cut, order.level_db):
        peak = true_peak.advance(peak, block)
        highest = max(highest, float(np.abs(block).max()))
    for _ in source:  # what is cut off at the end belongs to the render all the same
        pass
    if watched.audio_sha256 != order.audio_sha256:
        raise AudioFileError(
            f"{order.render} no longer holds what its sheet says: it was changed after the run",
            "make it again: `sweeper recall` with the variant's recall.json",
        )
    found = true_peak.finish(peak)["true_peak_dbtp"].value
    return Ahead(found, highest, render.format, render.frames, rate_hz, word_length.finish(watched.grid), cut)
