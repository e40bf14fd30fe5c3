"""Excerpts through the stages that a reach turns, to foretell what a full render would measure. Runs in workers.

The excerpts are the same for every variant of a mix, and go through the chain from the mix on, so that where a reach
starts does not depend on what the store holds. What is looked for inside the stages is looked for in the loudest few
seconds.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from sweeper.audio import blocks
from sweeper.host.setup import grouped
from sweeper.host.stage import HostedStage
from sweeper.meter import gating_blocks, overshoots, true_peak
from sweeper.meter.excerpts import Piece, around, at_peaks, pieces
from sweeper.meter.foretold import foretold_powers
from sweeper.meter.gating import integrated
from sweeper.meter.gating_blocks import TENTHS_PER_S, Blocks
from sweeper.meter.grid import Doubles
from sweeper.meter.overshoots import Overshoots
from sweeper.meter.passage import MOST_S
from sweeper.plan.rehearsed import can_foretell
from sweeper.quantities import Measurements
from sweeper.render.job import Job
from sweeper.render.orders import FILE_PATIENCE_S
from sweeper.render.room import Room, chunk_frames
from sweeper.render.stream import render
from sweeper.render.upstream import Upstream

if TYPE_CHECKING:
    from sweeper.render.looking import Looking

#: By how many settings are solved together: how much of a mix is played at a time, and what that may cost a variant in
#: all, in full renders; and what it may cost more for each full render behind the first.
SHARES, MOST_OF_A_PASS, MORE_OF_A_PASS = (0.06, 0.045, 0.035), (0.5, 0.7, 0.9), 0.2
#: How many seconds are looked into at a time, where a full render looks into `MOST_S`: what the attenuation in the
#: loudest seconds is, that of the loudest half minute follows.
LOOKED_S = 8


def worth_rehearsing(job: Job, room: Room) -> bool:
    """Whether excerpts can foretell everything that the job's reaches are held against.

    Not where settings move in time, as excerpts are joined; nor on a ride's amount.
    """
    keys = {goal.key for order in job.reach for goal in order.goals}
    solved = bool(keys) and not any(order.as_taught for order in job.reach)
    told = all(can_foretell(key) and key not in job.unseen for key in keys)
    return solved and told and not any(setup.rides for setup in job.stages) and not (
        room.format.rate_hz % TENTHS_PER_S)  # fmt: skip


class Rehearsal:
    """A job's chain on excerpts of its mix."""

    def __init__(self, job: Job, room: Room, upstream: Upstream) -> None:
        self.job = job
        self.room = room
        self.upstream = upstream
        self._frames = 0
        self._renders = 0
        self.edition = 0
        self._peaks_matter = not {goal.key for order in job.reach for goal in order.goals} <= {"loudness_lufs"}

    @property
    def left(self) -> int:
        """How often the excerpts may still be played; 0 = not any more, or the mix is too short for excerpts."""
        most = MOST_OF_A_PASS[len(self.job.reach) - 1] + MORE_OF_A_PASS * max(self._renders - 1, 0)
        return int((most - self.passes) / self._share) if self._pieces else 0

    @property
    def passes(self) -> float:
        """What was played, in full renders with what they look into."""
        return self._frames / max(self.room.mix.frames + self._looked_frames(MOST_S), 1)

    def take_in(self, peak_frame: int) -> None:
        """A full render was made: play the place where it had its highest peak too, from now on, where peaks matter."""
        self._renders += 1
        at = peak_frame // self._tenth
        if self._peaks_matter and self._pieces and not any(piece.holds(at) for piece in self._pieces):
            piece = around(at, self._mix)
            self._input = np.concatenate([self._input, self._brought([piece])], axis=1)
            self._pieces = (*self._pieces, piece)
            self.edition += 1

    def foretell(self) -> Measurements:
        """What a full render would measure with every setting where it stands, as far as excerpts can foretell it."""
        heard = self._heard()
        found = self._foretold(heard, self._powers(heard))
        if self._shortly is None:
            return found
        self._frames += self._looked_frames(LOOKED_S)
        return self._shortly.looked(self.job.looks_each_pass, found)

    def _foretold(self, heard: np.ndarray, powers: Doubles) -> Measurements:
        loudness = integrated(powers).value
        peak = max(float(np.abs(heard[:, one]).max()) for one in self._within(self._tenth))
        values = {"loudness_lufs": loudness, "sample_peak_dbfs": 20 * math.log10(peak) if peak > 0 else None,
                  "true_peak_dbtp": self._true_peak_dbtp(heard)}  # fmt: skip
        return Measurements(values | self._of_levels(values))

    def _heard(self) -> np.ndarray:
        """The excerpts with their leads behind the chain as its settings stand."""
        heard = self._played(self._all[self._first :], self._input)
        self._frames += heard.shape[1]
        return heard

    def _powers(self, heard: np.ndarray) -> Doubles:
        """Of every block of the mix, what its power would be behind the chain."""
        seen = gating_blocks.start(self.room.format)
        for block in _cut(heard, self._chunk):
            seen = gating_blocks.advance(seen, block)
        made = np.concatenate([gating_blocks.finish(seen).powers[one] for one in self._within(1)])
        return foretold_powers(self._mix, self._of_pieces, made)

    def _of_levels(self, values: dict[str, float | None]) -> dict[str, float | None]:
        """RMS, crest and PLR: the RMS is taken to follow the loudness."""
        loudness, peak, true = (values[key] for key in ("loudness_lufs", "sample_peak_dbfs", "true_peak_dbtp"))
        before, rms = integrated(self._mix.powers).value, self._mix_rms_dbfs
        after = None if loudness is None or before is None or rms is None else rms + loudness - before
        return {"rms_dbfs": after, "crest_db": None if peak is None or after is None else peak - after,
                "plr_db": None if true is None or loudness is None else true - loudness}  # fmt: skip

    def _true_peak_dbtp(self, heard: np.ndarray) -> float | None:
        found = []
        for one in self._within(self._tenth):
            state = true_peak.advance(true_peak.start(self.room.format), heard[:, one])
            found.append(true_peak.finish(state)["true_peak_dbtp"].value)
        return max((peak for peak in found if peak is not None), default=None)

    def _played(self, stages: tuple[HostedStage, ...], sound: np.ndarray) -> np.ndarray:
        """A sound through some stages, as long as it is."""
        self.room.report.phase("trying on excerpts", self.job.patience_s)
        made: list[np.ndarray] = []
        render(stages, _cut(sound, self._chunk), sound.shape[1], self.job.block_frames, made.append,
               lambda stage, at_s: self.room.report.beat())  # fmt: skip
        return np.concatenate(made, axis=1)[:, : sound.shape[1]]

    @cached_property
    def _all(self) -> tuple[HostedStage, ...]:
        return self.upstream.stages()

    @cached_property
    def _first(self) -> int:
        """Where the first step begins that holds a stage that is turned, among all stages."""
        turned = min((order.stage for order in self.job.reach), default=self.upstream.covered) - self.upstream.covered
        groups = grouped([stage.setup for stage in self._all])
        return max((group[0] for group in groups if group[0] <= turned), default=0)  # nothing before it is heard

    @cached_property
    def _input(self) -> np.ndarray:
        """The excerpts, one behind the other with their leads, as they come to the first stage that is turned."""
        return self._brought(self._pieces)

    def _brought(self, pieces: Sequence[Piece]) -> np.ndarray:
        file, tenth = self.upstream.file, self._tenth
        parts = [block for piece in pieces
                 for block in blocks(file, self._chunk, (piece.first - piece.lead) * tenth,
                                     (piece.first - piece.lead + piece.length) * tenth)]  # fmt: skip
        joined = np.concatenate(parts, axis=1)
        return self._played(self._all[: self._first], joined) if self._first else joined

    @cached_property
    def _scanned(self) -> tuple[Blocks, Overshoots, float]:
        """The blocks of the whole mix, where it swings past its samples, and its energy."""
        self.room.report.phase("choosing excerpts", FILE_PATIENCE_S)
        seen, swings, energy = gating_blocks.start(self.room.format), overshoots.start(self.room.format), 0.0
        for block in blocks(self.room.mix, self._chunk):
            seen = gating_blocks.advance(seen, block)
            if self._peaks_matter:
                swings = overshoots.advance(swings, block)
                energy += float(np.square(block, dtype=np.float64).sum())
            self.room.report.beat()
        return gating_blocks.finish(seen), overshoots.finish(swings), energy

    @property
    def _mix(self) -> Blocks:
        return self._scanned[0]

    @property
    def _mix_rms_dbfs(self) -> float | None:
        power = self._scanned[2] / max(self.room.mix.frames * self.room.format.channels, 1)
        return 10 * math.log10(power) if power > 0 else None

    @cached_property
    def _pieces(self) -> tuple[Piece, ...]:
        chosen = self._chosen
        return (*chosen, *(at_peaks(self._scanned[1], self._mix, chosen) if chosen else ()))

    @cached_property
    def _chosen(self) -> tuple[Piece, ...]:
        """Those of the pieces that stand for the whole; the others are there for their peaks."""
        return pieces(self._mix, SHARES[len(self.job.reach) - 1])

    @property
    def _of_pieces(self) -> Blocks:
        """The blocks of the mix that lie in the excerpts."""
        powers, peaks = ([of[piece.blocks] for piece in self._pieces] for of in (self._mix.powers, self._mix.peaks))
        return Blocks(np.concatenate(powers), np.concatenate(peaks))

    def _within(self, tenth: int) -> Iterator[slice]:
        """Where each piece lies in what is played, without its lead. tenth: how much a tenth of a second is.

        With 1, where its blocks lie among those of what is played.
        """
        at = 0
        for piece in self._pieces:
            first = at + piece.lead
            count = piece.blocks.stop - piece.blocks.start if tenth == 1 else piece.inside
            yield slice(first * tenth, (first + count) * tenth)
            at += piece.length

    @property
    def _share(self) -> float:
        """How much of the mix is played at a time."""
        played = sum(piece.length for piece in self._pieces) * self._tenth + self._looked_frames(LOOKED_S)
        return played / max(self.room.mix.frames + self._looked_frames(MOST_S), 1)

    def _looked_frames(self, most_s: int) -> int:
        """How much is played to look into the stages once, in a passage that may be so long."""
        if not self.job.looks_each_pass:
            return 0
        copies = sum(2 for look in self.job.looks_each_pass if look.music)
        return (1 + copies) * min(most_s * self.room.format.rate_hz, self.room.mix.frames)

    @cached_property
    def _shortly(self) -> Looking | None:
        """What looks inside the stages for a try; not even imported where nothing is to be looked at."""
        if not self.job.looks_each_pass:
            return None
        from sweeper.render.looking import Looking

        return Looking(self.job, self.room, self.upstream, LOOKED_S)

    @property
    def _tenth(self) -> int:
        return self.room.format.rate_hz // TENTHS_PER_S

    @property
    def _chunk(self) -> int:
        return chunk_frames(self.room.format.rate_hz, self.job.block_frames)


def _cut(sound: np.ndarray, frames: int) -> Iterator[np.ndarray]:
    return (sound[:, at : at + frames] for at in range(0, sound.shape[1], frames))
