"""The way of a print up to its words: rate conversion, then trims and fades, then gain. Runs in workers."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweeper.audio import SoundFile
from sweeper.audio.converting import converted, converted_frames
from sweeper.chain.print_model import Edits, PrintSpec
from sweeper.delivery.edits import Cut, cut_of, edited
from sweeper.units import gain

Doubles = NDArray[np.float64]


def rate_of(spec: PrintSpec, render: SoundFile) -> int:
    """The print's rate in Hz."""
    return render.format.rate_hz if spec.rate_hz is None else spec.rate_hz


def cut_for(spec: PrintSpec, edits: Edits, render: SoundFile) -> Cut:
    """What is kept, in frames at the print's rate. Raises PrintError where that is nothing."""
    rate_hz = rate_of(spec, render)
    frames = converted_frames(render.frames, render.format.rate_hz, rate_hz)
    return cut_of(Edits() if spec.as_rendered else edits, frames, rate_hz)


def before_words(
    blocks: Iterable[NDArray[np.floating[Any]]], spec: PrintSpec, render: SoundFile, cut: Cut, gain_db: float
) -> Iterator[Doubles]:
    """The sound of a print before words are made, float64 (channels, frames). blocks: the render's, all of them."""
    rate_hz, factor = rate_of(spec, render), gain(gain_db)
    stream = converted(blocks, render.format.channels, render.format.rate_hz, rate_hz, render.frames)
    for block in edited(stream, cut):
        yield block if gain_db == 0 else block * factor
