"""Which stretch of the mix a loop is made of."""

from __future__ import annotations

import numpy as np

from sweeper.chain.model import Mix
from sweeper.chain.nearest import suggestion
from sweeper.errors import AudioFileError
from sweeper.units import clock

#: How long a loop is when nobody says which.
LOOP_S = 20.0
#: Shorter ones only buzz.
SHORTEST_S = 0.5
#: At both ends of the loop, so that the seam does not click.
FADE_S = 0.01


def section_span_s(mix: Mix, name: str) -> tuple[float, float]:
    """Where a section of the mix is, in seconds. Raises AudioFileError for one that the chain file does not name."""
    for section in mix.sections:
        if section.name.casefold() == name.casefold():
            return section.start_s, section.end_s
    named = [section.name for section in mix.sections]
    raise AudioFileError(f"{mix.written} has no section '{name}'",
                         suggestion(name, named) or "name it under `sections:` of the mix, or use --from and --to")


def checked_span_s(span_s: tuple[float, float], duration_s: float, written: str) -> tuple[float, float]:
    """A stretch inside the mix; its end may be past the mix's. Raises AudioFileError when it is none."""
    start_s, end_s = span_s[0], min(span_s[1], duration_s)
    if end_s - start_s < SHORTEST_S:
        raise AudioFileError(
            f"there is no loop from {clock(start_s)} to {clock(span_s[1])}: {written} lasts {clock(duration_s)}",
            f"name {SHORTEST_S:g} s or more inside it")  # fmt: skip
    return start_s, end_s


def faded(loop: np.ndarray, rate_hz: int) -> np.ndarray:
    """The loop, (channels, frames), with its ends faded over 10 ms, so that its seam does not click."""
    frames = min(round(FADE_S * rate_hz), loop.shape[1] // 2)
    slope = np.sin(np.linspace(0.0, np.pi / 2, frames, endpoint=False)) ** 2
    shape = np.ones(loop.shape[1])
    if frames:
        shape[:frames], shape[-frames:] = slope, slope[::-1]
    out: np.ndarray = (loop * shape).astype(np.float32)
    return out
