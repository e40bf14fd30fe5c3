"""What a worker has before it while it renders: the input, the stages set up, and what is to be recorded of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from sweeper.audio import AudioFormat, SoundFile, audio_hash, blocks, inspect
from sweeper.errors import AudioFileError, PluginError
from sweeper.host.setup import StageSetup, grouped, loading, stage_label
from sweeper.host.stage import HostedStage
from sweeper.records import RideRecord, StageRecord
from sweeper.render.job import Job, MixFile, StepJob, changed, stamp_of
from sweeper.render.orders import FILE_PATIENCE_S
from sweeper.render.recording import stage_record
from sweeper.render.store import Entry, open_entry
from sweeper.units import clock, folded
from sweeper.workers import Report

if TYPE_CHECKING:  # it brings the meters of what stages do along, which no run needs
    from sweeper.render.inside import InsideOrder


def chunk_frames(rate_hz: int, block_frames: int) -> int:
    """How much audio goes through at a time: whole blocks, at most a second, so that life shows often."""
    return max(1, rate_hz // block_frames) * block_frames


@contextmanager
def placed(setup: StageSetup) -> Iterator[None]:
    """Puts the stage and its plugin in front of what a plugin error says."""
    try:
        yield
    except PluginError as exc:
        raise type(exc)(f"stage {stage_label(setup.name, setup.path)}: {exc.what}", exc.remedy) from exc


class Room:
    """A job's input and the stages behind it.

    stages: those that are rendered here; the ones before them were rendered into `entry`.
    Raises AudioFileError, PluginError, SettingError, StateError, or StoreDamaged while it is made.
    """

    def __init__(self, job: Job | StepJob | InsideOrder, report: Report) -> None:
        self.job = job
        self.report = report
        report.phase("reading the mix", FILE_PATIENCE_S)
        self.mix: SoundFile = unchanged(job.mix)
        self.format = AudioFormat(self.mix.format.channels, self.mix.format.rate_hz)
        self.entry: Entry | None = None
        self.covered = 0
        if job.start is not None:
            report.phase("reading what is rendered already", FILE_PATIENCE_S)
            self.entry = open_entry(job.start.folder, job.start.key)
            self.covered = job.start.covered
        self.stages = self.hosted(job.stages[self.covered :])

    def hosted(self, setups: Sequence[StageSetup]) -> tuple[HostedStage, ...]:
        """Some of the job's stages, loaded and set. Raises PluginError, SettingError or StateError."""
        self._refuse_changes(setups)
        stages = tuple(self._hosted(setup) for setup in setups)
        self._refuse_changes(setups)  # nor may they have changed while they were loaded
        return stages

    def _refuse_changes(self, setups: Sequence[StageSetup]) -> None:
        """Raises PluginError when a plugin or a state that is loaded here is no longer what the run began with."""
        for setup in setups:
            for path in (setup.path, str(setup.state or "")):
                known = self.job.files.get(path)
                if known is not None and not setup.bypass and changed(known):
                    raise PluginError(f"stage '{setup.name}': {path} has changed since the run began",
                                      "put it back as it was, or start a new run")  # fmt: skip

    def _hosted(self, setup: StageSetup) -> HostedStage:
        self.report.phase(loading(setup), self.job.patience_s)
        with placed(setup):
            return HostedStage(setup, self.format, self.job.block_frames, self.report.beat)

    @property
    def steps(self) -> int:
        """How many steps one pass renders."""
        return len(grouped([stage.setup for stage in self.stages]))

    @property
    def frames(self) -> int:
        """How long the input is."""
        return self.entry.file.frames if self.entry else self.mix.frames

    @property
    def plugin_s(self) -> float:
        """Seconds spent inside the plugins so far."""
        return sum(stage.plugin_s for stage in self.stages)

    def input(self) -> Iterator[np.ndarray]:
        """The sound that the first of `stages` gets, chunk by chunk."""
        file = self.entry.file if self.entry else self.mix
        return blocks(file, chunk_frames(self.format.rate_hz, self.job.block_frames))

    def progress(self, stage: str, at_s: float) -> None:
        """A sign of life: where a stage stands in the mix."""
        share = min(1.0, at_s * self.format.rate_hz / self.mix.frames)
        self.report.beat(f"{clock(at_s)} in {stage}", share)

    def records(self) -> tuple[StageRecord, ...]:
        """Every stage of the job as it stands, those before the stored input as they stood."""
        return (*self._covered_records(), *(stage_record(stage) for stage in self.stages))

    def _covered_records(self) -> Iterator[StageRecord]:
        stored = iter(self.entry.stages if self.entry else ())
        for setup in self.job.stages[: self.covered]:
            if setup.bypass:
                yield stage_record(HostedStage(setup, self.format, self.job.block_frames))
            else:
                yield as_asked(next(stored), setup)

    def stored_notes(self) -> Iterator[str]:
        """What is noted of the stored input, with the stages called as this job calls them."""
        if self.entry is None:
            return
        audible = [setup for setup in self.job.stages[: self.covered] if not setup.bypass]
        for note in self.entry.notes:
            for record, setup in zip(self.entry.stages, audible, strict=True):
                before = stage_label(record.name, record.path)
                if note.startswith(before):
                    note = stage_label(setup.name, setup.path) + note[len(before) :]
                    break
            yield note

    def notes(self, of_render: tuple[str, ...]) -> tuple[str, ...]:
        """What an engineer should know: of the stored input, of the render, and of settings that moved."""
        drifted = tuple(f"{s.label}: {moved}" for s in self.stages if (moved := s.drift()))
        return (*self.stored_notes(), *of_render, *drifted)


def as_asked(record: StageRecord, setup: StageSetup) -> StageRecord:
    """A stored stage as this job's chain file calls it and asks for it; it sounds the same."""
    texts = {(folded(dialled.name), side): dialled.value.text for dialled in setup.settings
             for side in ((dialled.side,) if dialled.side else setup.channels.sides)}  # fmt: skip
    settings = tuple(replace(a, asked=texts.get((folded(a.name), a.side), a.asked)) for a in record.settings)
    return replace(
        record, name=setup.name, path=setup.path, state_file=str(setup.state or ""), output=setup.output,
        label=setup.label, settings=settings, bus=setup.bus, instances=setup.instances,
        latency=setup.latency.text if setup.latency else "", rides=tuple(_renamed(record.rides, setup)),
    )  # fmt: skip


def _renamed(rides: Sequence[RideRecord], setup: StageSetup) -> Iterator[RideRecord]:
    """The rides of a stored stage under the names that this job gives them: the same ones, in the same order."""
    met: Counter[tuple[str, str]] = Counter()
    for ride in rides:
        own = [one for one in setup.rides if one.setting == ride.setting and one.side in ("", ride.side)]
        named = own[met[ride.setting, ride.side]]
        met[ride.setting, ride.side] += 1
        yield replace(ride, name=named.name, amount=named.amount.text)


def unchanged(mix: MixFile) -> SoundFile:
    """The mix, when it is still the one that the run began with. Raises AudioFileError when it is not."""
    file = inspect(mix.path)
    if file.format.channels > 2:
        raise AudioFileError(f"{mix.path.name} has {file.format.channels} channels",
                             "mono and stereo mixes can be mastered")  # fmt: skip
    if stamp_of(file.path) != mix.stamp and audio_hash(file) != mix.source.audio_sha256:
        raise AudioFileError(f"{mix.path} has changed since the run began", "start a new run with the new mix")
    return file
