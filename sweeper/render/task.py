"""What a worker does with one variant: load, set, solve or render once, measure, write. Runs in workers."""

from __future__ import annotations

import gc
import hashlib
import time
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from sweeper import meter
from sweeper.audio import BroadcastTag, WavWriter
from sweeper.errors import StoreError
from sweeper.quantities import Measurements
from sweeper.render.gave import Given
from sweeper.render.job import Job, Look, Rendered, Solved
from sweeper.render.orders import FILE_PATIENCE_S
from sweeper.render.rehearsal import Rehearsal, worth_rehearsing
from sweeper.render.room import Room
from sweeper.render.sheets import write_sheet
from sweeper.render.store import EntryWriter, write_entry
from sweeper.render.stream import render
from sweeper.render.tapping import Tapped
from sweeper.render.turning import solved_in
from sweeper.render.upstream import Upstream
from sweeper.workers import Report

if TYPE_CHECKING:
    from sweeper.render.looking import Looking

Sink = Callable[[np.ndarray], None]


class _Variant:
    """One variant under way: the file of the last pass, what was measured of it, the step stored in passing."""

    def __init__(self, job: Job, room: Room, passing: _Passing | None) -> None:
        self.job = job
        self.room = room
        self.passing = passing
        self.passes = 0
        self.notes: tuple[str, ...] = ()
        self.written: WavWriter | None = None
        self.measurements: Measurements | None = None
        self.behind: tuple[Measurements, ...] = ()
        self.given = Given(room)
        self.upstream = Upstream(job, room)
        self.looking = _looking(job, room, self.upstream)
        self.rehearsal = _rehearsal(job, room, self.upstream)
        self.digest = ""

    def render(self) -> Measurements:
        """One full render into a new file, measured on the way; the file before it is dropped."""
        self.drop()
        job, room = self.job, self.room
        room.report.phase("rendering", job.patience_s)
        writer = WavWriter(job.target, room.format.channels, room.format.rate_hz).__enter__()
        self.written = writer
        panel = meter.start(room.format, job.sections)
        digest = hashlib.sha256()
        highest, peak_frame = 0.0, 0

        def sink(block: np.ndarray) -> None:
            nonlocal panel, highest, peak_frame
            given = writer.frames
            writer.write(block)
            panel = meter.advance(panel, block)
            if panel.whole.true_peak.best > highest:
                highest, peak_frame = panel.whole.true_peak.best, given + int(np.abs(block).max(axis=0).argmax())
            digest.update(np.ascontiguousarray(block.T, "<f4").tobytes())

        tapped = Tapped(room, job.tapped, job.sections)
        self.given = Given(room, [self.passing.taps if self.passing else {}, tapped.taps])
        self.notes = render(room.stages, room.input(), room.frames, job.block_frames, sink, room.progress,
                            self.given.taps)  # fmt: skip
        self.behind = tapped.measured()
        self.passes += 1
        self.digest = digest.hexdigest()
        if self.rehearsal is not None:
            self.rehearsal.take_in(peak_frame)
        self.measurements = self._looked(job.looks_each_pass, meter.finish(panel))
        return self.measurements

    def drop(self) -> None:
        """Throw away the file of the last render, unless it was committed."""
        if self.written is not None:
            self.written.__exit__(None, None, None)
            self.written = None

    def solved(self) -> tuple[Solved, ...]:
        """Render until every reach has landed, or once where there is none."""
        if not self.job.reach:
            self.render()
            return ()
        return solved_in(self.room, self.job.reach, self.render, self.rehearsal)

    def looked_at(self) -> Measurements:
        """What was measured of the last render, with what the job wants looked at, and why what is missing is."""
        assert self.measurements is not None
        left = tuple(look for look in self.job.looks if look not in self.job.looks_each_pass)
        found = self._looked(left, self.measurements)
        unseen = dict.fromkeys(self.job.unseen)
        return replace(found, values={**found.values, **unseen}, reasons={**found.reasons, **self.job.unseen})

    @property
    def plugin_s(self) -> float:
        """Seconds inside the plugins so far, those that only looking or excerpts need included."""
        return self.room.plugin_s + self.upstream.plugin_s

    def _looked(self, looks: Sequence[Look], measurements: Measurements) -> Measurements:
        return measurements if self.looking is None else self.looking.looked(looks, measurements)

    def commit(self, rendered: Rendered) -> None:
        """Write the sheet, then give the last render its place, with its loudness in its metadata.

        In this order: a render that is in its place always has its sheet.
        """
        assert self.written is not None
        self.room.report.phase("writing", FILE_PATIENCE_S)
        write_sheet(self.job, rendered)
        values = rendered.measurements.values
        self.written.commit(BroadcastTag(
            self.job.tag, self.job.date, self.job.time, values["loudness_lufs"], values["loudness_range_lu"],
            values["true_peak_dbtp"], values["momentary_max_lufs"], values["short_term_max_lufs"],
        ))  # fmt: skip


def _looking(job: Job, room: Room, upstream: Upstream) -> Looking | None:
    """What looks inside the job's stages; None, and not even imported, where nothing is to be looked at."""
    if not job.looks:
        return None
    from sweeper.render.looking import Looking

    return Looking(job, room, upstream)


def _rehearsal(job: Job, room: Room, upstream: Upstream) -> Rehearsal | None:
    """What plays excerpts before the first full render; None where they foretell nothing of what is solved."""
    return Rehearsal(job, room, upstream) if worth_rehearsing(job, room) else None


class _Passing:
    """A step that is stored while a variant is rendered. What goes wrong with it costs only itself.

    taps: for `render`. trouble: why it could not be stored.
    """

    def __init__(self, room: Room, covered: int, entry: EntryWriter) -> None:
        self._room = room
        self._covered = covered
        self._entry = entry
        self.trouble = ""
        self.taps: dict[int, Sink] = {covered - room.covered - 1: self._write}

    def _write(self, block: np.ndarray) -> None:
        if not self.trouble:
            try:
                self._entry.write(block)
            except StoreError as exc:
                self.trouble = str(exc)

    def commit(self, notes: tuple[str, ...], given: Given) -> None:
        """Put it in its place in the store. notes: of the stages up to it. given: what they gave."""
        if not self.trouble:
            records = [record for record in given.on(self._room.records())[: self._covered] if not record.bypass]
            own = self._room.stages[: self._covered - self._room.covered]
            kept = tuple(note for note in notes if any(note.startswith(stage.label) for stage in own))
            kept += tuple(f"{stage.label}: {moved}" for stage in own if (moved := stage.drift()))
            earlier = tuple(self._room.stored_notes())
            try:
                self._entry.commit(tuple(records), (*earlier, *kept), self._room.plugin_s)
            except StoreError as exc:
                self.trouble = str(exc)


def render_variant(job: Job, report: Report) -> Rendered:
    """Render one variant into `job.target`, on its targets where it has some, and its sheet beside it.

    Raises as Room does, and RunFolderError when a file cannot be written.
    """
    began = time.perf_counter()
    room = Room(job, report)
    with ExitStack() as stack:
        passing = _passing(job, room, stack)
        variant = _Variant(job, room, passing)
        stack.callback(gc.collect)  # plugins of an earlier variant must not pile up, nor end in another thread later
        stack.callback(variant.drop)
        solved = variant.solved()
        assert variant.measurements is not None
        if passing is not None:
            passing.commit(variant.notes, variant.given)
        # as the render left them: looks play on
        records, notes = variant.given.on(room.records()), room.notes(variant.notes)
        rendered = Rendered(
            measurements=variant.looked_at(), source=job.mix.source, solved=solved, stages=records, notes=notes,
            audio_sha256=variant.digest, passes=variant.passes, plugin_s=variant.plugin_s,
            wall_s=time.perf_counter() - began, steps=variant.passes * room.steps,
            trouble=passing.trouble if passing else "", behind=variant.behind,
            excerpts=round(variant.rehearsal.passes, 3) if variant.rehearsal else 0.0,
        )  # fmt: skip
        variant.commit(rendered)
    return rendered


def _passing(job: Job, room: Room, stack: ExitStack) -> _Passing | None:
    """The step to store on the way, opened; None when there is none."""
    if job.passing is None:
        return None
    try:
        entry = stack.enter_context(write_entry(job.passing.folder, job.passing.key, room.format))
    except StoreError:  # its room was reserved a moment ago; the next variant or run tries again
        return None
    return _Passing(room, job.passing.covered, entry)
