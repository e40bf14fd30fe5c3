"""Stages on the bench: what each does to its own input that no linear stage could. Runs in workers.

A passage of the mix goes through the chain stage by stage. A stage that is looked at gets its input twice more, far
lower (`meter/quiet_copy`), and a tone at the level of its input (`meter/harmonics`). The whole stage is the unit:
trims, blend, mid and side. Every pass begins with a reset.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace

import numpy as np

from sweeper.audio import SoundFile, blocks
from sweeper.chain.model import Channels
from sweeper.host.setup import grouped
from sweeper.host.stage import HostedStage
from sweeper.meter import harmonics, quiet_copy
from sweeper.render.inside import LEAD_S, NOTHING_IN, Seen
from sweeper.render.job import Look
from sweeper.render.link import Sink
from sweeper.render.orders import FILE_PATIENCE_S
from sweeper.render.programme_tone import heard_rms, level_dbfs, tone_for
from sweeper.render.room import chunk_frames
from sweeper.render.stream import render
from sweeper.render.takes import Recorder, Take
from sweeper.units import gain
from sweeper.workers import Report

#: A tone plays so long before it is measured for a second, so that compressors have settled. Ours, not tried otherwise.
SETTLE_S = 2
WHOLE_CHAIN = "the whole chain"


@dataclass(frozen=True)
class BenchOrder:
    """looks: what to look at. covered: so many stages of the chain lie before the bench."""

    looks: tuple[Look, ...]
    covered: int
    block_frames: int
    patience_s: float


class Bench:
    """Stages, the takes that go through them, and what has been seen so far, by the look's number."""

    def __init__(self, bench: BenchOrder, stages: Sequence[HostedStage], recorder: Recorder, report: Report) -> None:
        """stages: those behind the first `covered` of the chain. recorder: of takes as long as the passage."""
        self.bench = bench
        self.stages = stages
        self.recorder = recorder
        self.report = report
        self.seen: dict[int, Seen] = {}

    def walk(self, file: SoundFile, first: int, last: int) -> None:
        """A stretch of a file through every stage in turn, each looked at on its own input; then the whole chain.

        first, last (not included): frames.
        """
        source = self.recorder.record(lambda sink: _all(blocks(file, self.chunk, first, last), sink))
        sound = source
        for numbers in grouped([stage.setup for stage in self.stages]):
            on_buses = bool(self.stages[numbers[0]].setup.bus)
            made = self._buses(numbers, sound) if on_buses else self._stage(numbers[0], sound)
            if sound is not source:
                sound.drop()
            sound = made
        self._look(None, self.stages, source, sound)
        source.drop()
        if sound is not source:
            sound.drop()

    @property
    def rate_hz(self) -> int:
        """Of every take."""
        return self.recorder.format.rate_hz

    def progress(self, stage: str, at_s: float) -> None:
        """A sign of life: where a stage stands in the passage."""
        self.report.beat(f"{at_s:.1f} s of the passage in {stage}")

    @property
    def chunk(self) -> int:
        """Frames of a block of sound."""
        return chunk_frames(self.rate_hz, self.bench.block_frames)

    def _stage(self, number: int, went_in: Take) -> Take:
        """What a stage makes of a take, and a look at it where one is asked for."""
        stages = self.stages[number : number + 1]
        with _off_its_bus(stages[0]):
            came_out = self._through(stages, went_in, 1.0)
            self._look(self.bench.covered + number, stages, went_in, came_out)
        return came_out

    def _buses(self, numbers: Sequence[int], went_in: Take) -> Take:
        """What the buses make of a take together: it, and what comes out of each."""
        parts: dict[str, Take] = {}
        for number in numbers:
            bus = self.stages[number].setup.bus
            before = parts.get(bus, went_in)
            parts[bus] = self._stage(number, before)
            if before is not went_in:
                before.drop()
        takes = (went_in, *parts.values())
        together = zip(*(take.blocks(self.chunk) for take in takes), strict=True)
        made = self.recorder.record(lambda sink: _all((np.sum(each, axis=0) for each in together), sink))
        for part in parts.values():
            part.drop()
        return made

    def _through(self, stages: Sequence[HostedStage], went_in: Take, factor: float) -> Take:
        """What stages make of a take times a factor."""
        self.report.phase(f"rendering a passage through {_named(stages)}", self.bench.patience_s)
        sound = went_in.blocks(self.chunk, factor)
        frames, block_frames = self.recorder.frames, self.bench.block_frames
        return self.recorder.record(
            lambda sink: render(stages, sound, frames, block_frames, sink, self.progress)
        )  # fmt: skip

    def _look(self, stage: int | None, stages: Sequence[HostedStage], went_in: Take, came_out: Take) -> None:
        """Every look that is asked for of one stage, or of the whole chain."""
        for number, look in enumerate(self.bench.looks):
            if look.stage == stage:
                self.seen[number] = self._seen(look, stages, went_in, came_out)

    def _seen(self, look: Look, stages: Sequence[HostedStage], went_in: Take, came_out: Take) -> Seen:
        went_in_dbfs = level_dbfs(heard_rms(went_in.blocks(self.chunk), Channels.STEREO)[""])
        music = self._music(look, stages, went_in, came_out) if look.music else None
        sound = self._programme_tone(look, stages, went_in) if look.tone else None
        tone_in_dbfs = None if sound is None else level_dbfs(math.sqrt(np.square(sound, dtype=np.float64).mean()))
        tone = self._tone(look, stages, sound) if sound is not None and tone_in_dbfs is not None else None
        remarks = music.remarks if music else ()
        if look.tone and (remark := NOTHING_IN if tone is None else tone.remark):
            remarks = (*remarks, remark)
        name = "" if look.stage is None else stages[0].setup.name
        return Seen(look.stage, name, went_in_dbfs, tone_in_dbfs, music, tone, remarks)

    def _music(self, look: Look, stages: Sequence[HostedStage], went_in: Take,
               came_out: Take) -> quiet_copy.Explained:  # fmt: skip
        """Residue and attenuation, by two copies far lower."""
        quiet = self._through(stages, went_in, quiet_copy.QUIET)
        less_quiet = self._through(stages, went_in, quiet_copy.LESS_QUIET)
        self.report.phase(f"measuring what is left of {_named(stages)}", FILE_PATIENCE_S)
        copies = quiet_copy.start(self.recorder.format)
        takes = (came_out, quiet, less_quiet)
        for three in zip(*(_after(take.blocks(self.chunk), self._lead_frames) for take in takes), strict=True):
            copies = quiet_copy.advance(copies, *three)
            self.report.beat()
        quiet.drop()
        less_quiet.drop()
        return quiet_copy.finish(copies, self._repeats_db(look, came_out))

    @property
    def _lead_frames(self) -> int:
        """How much of a take is left alone at its head."""
        return min(round(LEAD_S * self.rate_hz), self.recorder.frames // 10)

    def _repeats_db(self, look: Look, came_out: Take) -> float | None:
        """The most that two renders differ by, against what comes out: a peak is never below its own RMS."""
        level = level_dbfs(heard_rms(came_out.blocks(self.chunk), Channels.STEREO)[""])
        return None if look.repeats_dbfs is None or level is None else look.repeats_dbfs - level

    def _programme_tone(self, look: Look, stages: Sequence[HostedStage], went_in: Take) -> np.ndarray:
        """The tone at the level of what the stages get, or at the one that is asked for."""
        channels = Channels.STEREO if look.stage is None else stages[0].setup.channels
        levels = heard_rms(went_in.blocks(self.chunk), channels)
        if look.tone_dbfs is not None:
            levels = dict.fromkeys(levels, gain(look.tone_dbfs))
        frames = (SETTLE_S + 1) * self.rate_hz
        return tone_for(levels, look.tone_hz, channels, self.recorder.format, frames)

    def _tone(self, look: Look, stages: Sequence[HostedStage], sound: np.ndarray) -> harmonics.Harmonics:
        """The harmonics of the last second of a tone through the stages."""
        rate_hz = self.rate_hz
        self.report.phase(f"rendering a tone through {_named(stages)}", self.bench.patience_s)
        out: list[np.ndarray] = []
        parts = (sound[:, at : at + self.chunk] for at in range(0, sound.shape[1], self.chunk))
        render(stages, parts, sound.shape[1], self.bench.block_frames, out.append, self.progress)
        came_out = np.concatenate(out, axis=1)[:, sound.shape[1] - rate_hz : sound.shape[1]]
        return harmonics.harmonics(came_out, harmonics.coherent_hz(look.tone_hz, rate_hz), rate_hz)


@contextmanager
def _off_its_bus(stage: HostedStage) -> Iterator[None]:
    """A stage of a bus gives what comes out of itself, where a bus in a chain is added to what feeds it."""
    in_chain = stage.setup
    stage.setup = replace(in_chain, bus="")
    try:
        yield
    finally:
        stage.setup = in_chain


def _named(stages: Sequence[HostedStage]) -> str:
    return stages[0].label if len(stages) == 1 else WHOLE_CHAIN


def _after(sound: Iterator[np.ndarray], frames: int) -> Iterator[np.ndarray]:
    """What comes after the first frames of blocks, in the same blocks."""
    for block in sound:
        if frames < block.shape[1]:
            yield block[:, frames:]
        frames = max(0, frames - block.shape[1])


def _all(sound: Iterator[np.ndarray], sink: Sink) -> None:
    for block in sound:
        sink(block)
