"""Excerpts of a mix through a whole chain, measured in place of a full render. Runs in workers.

Levels of the whole are foretold, as in a rehearsal; what some stretches show by themselves is measured on the excerpts,
joined without their leads.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from sweeper import meter
from sweeper.chain.excerpts import UNTOLD
from sweeper.errors import AudioFileError
from sweeper.meter.excerpts import LISTENED, LONG, Piece, pieces
from sweeper.meter.gating import OFFSET_LUFS, loudness_range
from sweeper.meter.grid import Doubles
from sweeper.meter.passage import MOST_S
from sweeper.meter.windows import STEPS
from sweeper.quantities import OF_FILES, Measurements
from sweeper.render.job import Job, Look
from sweeper.render.rehearsal import Rehearsal
from sweeper.render.room import Room
from sweeper.render.upstream import Upstream

if TYPE_CHECKING:
    from sweeper.render.looking import Looking

#: What the excerpts show by themselves, where it is not foretold.
OWN = tuple(quantity.key for quantity in OF_FILES if quantity.key not in UNTOLD)


class Listening(Rehearsal):
    """A job's chain on longer excerpts, which are all that is ever played of its mix.

    tries: how often they were played. Raises AudioFileError where the mix is too short or too soft for excerpts.
    """

    def __init__(self, job: Job, room: Room, upstream: Upstream) -> None:
        super().__init__(job, room, upstream)
        self.tries = 0
        self._peaks_matter = True
        self._looking = _looking(job, room, upstream)
        self._last = np.zeros((room.format.channels, 0), np.float32)
        if not self._pieces:
            raise AudioFileError(f"{room.mix.path.name} is too short or too soft for excerpts",
                                 "write `listen to: whole` in 'explore'")  # fmt: skip

    def tried(self) -> Measurements:
        """Play them with the settings as they stand: what a reach is held against."""
        self.tries += 1
        self._last = self._heard()
        self._frames += self._looked_frames(MOST_S)
        held = [goal.key for order in self.job.reach for goal in order.goals if goal.key in OWN]
        return self._looked(self.job.looks_each_pass, self._measured(held))

    def measured(self) -> Measurements:
        """All that excerpts tell of the last try, with what the job wants looked at, and why what is missing is."""
        found = self._looked(self.job.looks, self._measured(OWN))
        unseen = dict.fromkeys(self.job.unseen)
        return replace(found, values={**found.values, **unseen}, reasons={**found.reasons, **self.job.unseen})

    def _measured(self, keys: Iterable[str]) -> Measurements:
        """What is foretold of the last try, and of these what the excerpts show by themselves."""
        found = self._foretold(self._last, self._powers(self._last))
        own = [key for key in keys if key not in found.values]
        if not own:
            return found
        panel = meter.start(self.room.format)
        for span in self._spans():
            panel = meter.advance(panel, self._last[:, span])
            self.room.report.beat()
        joined = meter.finish(panel)
        return Measurements({**found.values, **{key: joined.values[key] for key in own}},
                            {key: joined.reasons[key] for key in own if key in joined.reasons})  # fmt: skip

    def _foretold(self, heard: np.ndarray, powers: Doubles) -> Measurements:
        """With what the loudness of every block tells of the loudness over time."""
        found = super()._foretold(heard, powers)
        over_3_s = np.convolve(powers, np.full(STEPS - 3, 1 / (STEPS - 3)), "valid")
        spread = loudness_range(over_3_s, self.room.mix.duration_s)
        return Measurements({**found.values, "momentary_max_lufs": _loudest(powers),
                             "short_term_max_lufs": _loudest(over_3_s), "loudness_range_lu": spread.value})  # fmt: skip

    def _looked(self, looks: tuple[Look, ...], found: Measurements) -> Measurements:
        return found if self._looking is None else self._looking.looked(looks, found)

    def _spans(self) -> Iterator[slice]:
        """Where the pieces that stand for the whole lie in what is played, in frames."""
        tenth = self.room.format.rate_hz // 10
        for piece, span in zip(self._pieces, self._within(tenth), strict=True):
            if piece in self._chosen:
                yield span

    @cached_property
    def _chosen(self) -> tuple[Piece, ...]:
        return pieces(self._mix, LISTENED, LONG)


def _looking(job: Job, room: Room, upstream: Upstream) -> Looking | None:
    """What looks inside the stages; not even imported where nothing is to be looked at."""
    if not job.looks:
        return None
    from sweeper.render.looking import Looking

    return Looking(job, room, upstream)


def _loudest(powers: Doubles) -> float | None:
    most = float(powers.max(initial=0.0))
    return 10 * math.log10(most) + OFFSET_LUFS if most > 0 else None
