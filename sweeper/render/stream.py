"""A chain at work: chunk by chunk through every stage, whole blocks only, aligned to the source.

A plugin that looks ahead gives its first output short. Pushed on as it is, the next plugin would get odd
blocks, and some sound different or wrong then; so a queue before each stage makes up whole blocks again. The
result equals rendering the whole file through one stage after another, to the bit.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

import numpy as np

from sweeper.host.setup import grouped
from sweeper.host.stage import HostedStage
from sweeper.render.buses import Buses
from sweeper.render.link import Link, Progress, Sink


def render(stages: Sequence[HostedStage], source: Iterable[np.ndarray], frames: int, block_frames: int, sink: Sink,
           progress: Progress, taps: Mapping[int, Sink] | None = None) -> tuple[str, ...]:  # fmt: skip
    """Render a source of `frames` frames through the stages, into `sink`: as many frames, and the stages' tails.

    source: blocks of (channels, any number of frames) float32. sink: is called with (channels, frames)
    blocks in order. taps: stage number -> a sink for what that stage puts out (-1: for the source; the last fader: for
    the buses). Returns what an engineer should know of the render, e.g. stages that gave silence. Every ridden setting
    stands where it stood before.
    Raises PluginError when a stage gives a sample that is no number, or keeps audio back.
    """
    taps = taps or {}
    for stage in stages:
        stage.reset()
    links = list(_links(stages, frames, block_frames, progress, taps))
    entry = taps.get(-1)
    for block in source:
        if entry is not None:
            entry(block)
        _onward(links, block, sink, progress)
    for number, link in enumerate(links):
        for block in link.flush(progress):
            _onward(links[number + 1 :], block, sink, progress)
    for stage in stages:
        stage.home()
    return tuple(note for link in links for note in link.notes())


def _links(stages: Sequence[HostedStage], frames: int, block_frames: int, progress: Progress,
           taps: Mapping[int, Sink]) -> Iterator[Link]:  # fmt: skip
    """One link a stage, and one for all buses together; what is bypassed is left out."""
    for numbers in grouped([stage.setup for stage in stages]):
        own = [stages[number] for number in numbers]
        runs = Buses(own, block_frames, progress) if own[0].setup.bus else own[0]
        frames += runs.tail_frames
        yield Link(runs, frames, block_frames, [taps[number] for number in numbers if number in taps])


def _onward(links: Sequence[Link], block: np.ndarray, sink: Sink, progress: Progress) -> None:
    for link in links:
        block = link.feed(block, progress)
        if not block.shape[1]:
            return
    if block.shape[1]:
        sink(block)
