"""What B is to A beyond a filter and a gain that moves, on the loudest minute of A; runs in workers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from sweeper.audio import SoundFile, blocks
from sweeper.meter import identified, passage
from sweeper.meter.alignment import Alignment
from sweeper.meter.quiet_copy import ROUNDING_DB, Explained
from sweeper.render.comparison import Deep
from sweeper.render.lining_up import BLOCK_FRAMES, stretch

#: So much more is read at either end, where there is more: the response needs it.
BEYOND_S = 1
NOT_ALIGNED = "nothing can be aligned"
CLOCK = "B's clock ran otherwise: the residue is that, too"
EDITED = "the offset changes on the way: the residue is that, too"


def identified_in(one: SoundFile, other: SoundFile, alignment: Alignment | None, common: tuple[int, int],
                  beat: Callable[[], None]) -> Deep:  # fmt: skip
    """What made B (`other`) of A (`one`). common: the first frame of A that B has too, and how many there are."""
    first, frames = common
    if alignment is None:
        return Deep(first, 0, Explained(None, ROUNDING_DB, None, None, None, None, (NOT_ALIGNED,)))
    search = passage.start(one.format)
    for block in blocks(one, BLOCK_FRAMES, first, first + frames):
        search = passage.advance(search, block)
        beat()
    loudest, end = passage.finish(search)
    beyond = BEYOND_S * one.format.rate_hz
    begin, count = first + max(0, loudest - beyond), min(frames, end + beyond) - max(0, loudest - beyond)
    explained = identified.identified(
        stretch(one, begin, count), stretch(other, begin + round(alignment.offset_frames), count),
        one.format.rate_hz, 1.0 - other.format.full_scale, beat,
    )  # fmt: skip
    said = {CLOCK: alignment.drift_ppm is not None, EDITED: alignment.wanders}
    remarks = tuple(words for words, holds in said.items() if holds and explained.residue_db is not None)
    return Deep(first + loudest, end - loudest, replace(explained, remarks=explained.remarks + remarks))
