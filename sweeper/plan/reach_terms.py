"""What a reach is told in: goals, passes, searches and endings, as frozen values."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import Enum

#: Passes after which the closest is taken.
MOST_PASSES = 16
NO_CLOSER = "no closer after"
#: What more drive makes larger, and what it makes smaller. Anything else is found by trying.
RISES_WITH_DRIVE = frozenset({
    "loudness_lufs", "momentary_max_lufs", "short_term_max_lufs", "true_peak_dbtp", "sample_peak_dbfs", "rms_dbfs",
    "attenuation_db", "attenuation_median_db", "attenuation_most_db", "attenuation_share_pct", "residue_db",
    "distortion_pct",
})  # fmt: skip
FALLS_WITH_DRIVE = frozenset({"crest_db", "plr_db", "psr_db", "crest_loud_db", "loudness_range_lu"})


class Direction(Enum):
    """Which way of the setting makes more of it."""

    RAISE = 1
    LOWER = -1
    UNKNOWN = 0

    @property
    def opposite(self) -> Direction:
        """The other way; UNKNOWN stays."""
        return Direction(-self.value)


def direction_for(key: str, drive: Direction) -> Direction:
    """Which way of a setting makes a measurement larger, from the way that drives harder.

    Loudness, RMS and peaks rise with drive; crest, PLR, PSR and loudness range fall with it, and what a stage does to
    the music grows with it (common practice, no source).
    UNKNOWN for every other quantity.
    """
    own = key.rpartition(".")[2]  # of a stage or not
    if own in RISES_WITH_DRIVE:
        return drive
    return drive.opposite if own in FALLS_WITH_DRIVE else Direction.UNKNOWN


@dataclass(frozen=True)
class Goal:
    """One thing that the drive is measured by. within: how close counts as on it, in its own unit.

    The first goal of a search is its target, the others are bounds. one_sided: it may not be passed; a target counts
    as met, and a bound as reached, up to `within` inside it. value: the peak that may not be passed,
    in its unit; nan = it is no peak. by_gain: how much its excess gains for one dB of gain on the whole sound: a level
    1, a floor for one -1, a difference of levels such as the crest 0; nan = not known.
    """

    name: str
    within: float
    one_sided: bool
    value: float = math.nan
    by_gain: float = math.nan

    @property
    def most(self) -> float:
        """The largest excess that still counts as met."""
        return 0.0 if self.one_sided else self.within

    @property
    def aim(self) -> float:
        """The excess to go for: the middle of what counts as met."""
        return -self.within / 2 if self.one_sided else 0.0


@dataclass(frozen=True)
class Pass:
    """One render: where the setting stood, and the excess of every goal, in the goals' order."""

    at: float
    excess: tuple[float, ...]


@dataclass(frozen=True)
class Search:
    """What is known so far. The setting runs from low to high; start is where it stands at first.

    decibels: the setting is in dB, so that a first guess of one dB a decibel is fair. steps: the values that a
    stepped setting has; () = any. home: where the chain file has the setting; None = at start. slope: the target's
    excess for one unit of the setting, as another variant taught it or as it is foreseen; None = not known. shares: for
    each of the searches that are asked together, how much of what its own setting does that one's does; () = not known.
    """

    goals: tuple[Goal, ...]
    low: float
    high: float
    start: float
    direction: Direction
    decibels: bool
    passes: tuple[Pass, ...] = ()
    steps: tuple[float, ...] = ()
    home: float | None = None
    slope: float | None = None
    shares: tuple[float | None, ...] = ()

    def share(self, other: int) -> float | None:
        """How much of what its own setting does one unit of another reach's does; None = not known."""
        return self.shares[other] if self.shares else None

    @property
    def rest(self) -> float:
        """Where the chain file has the setting."""
        return self.start if self.home is None else self.home

    @property
    def width(self) -> float:
        """The setting's whole way."""
        return self.high - self.low

    @property
    def ceiling(self) -> bool:
        """The setting is in dB and holds a peak that may not be passed: raised, it is taken to let more through."""
        return self.decibels and self.goals[0].one_sided and math.isfinite(self.goals[0].value)


class Ending(Enum):
    """How a search ends. FARTHEST: with bounds, where more of the setting brings no more and no bound is met before.

    AS_MAIN: nothing was searched, the setting stands where another mix's was solved to.
    """

    ON_TARGET = "on target"
    STOPPED = "stopped as asked"
    FARTHEST = "as far as it goes"
    OUT_OF_REACH = "out of reach"
    NOT_ENGAGED = "met, not engaged"
    AS_MAIN = "as its main mix"

    @property
    def teaches(self) -> bool:
        """Whether another search may start where this one ended: past a limiter's top nothing leads back."""
        return self not in (Ending.OUT_OF_REACH, Ending.FARTHEST, Ending.AS_MAIN)


#: Short of the goal, and as asked: what `stop at` allows.
ENDED_EARLIER = (Ending.STOPPED, Ending.FARTHEST)


@dataclass(frozen=True)
class Landed:
    """The search is over. chosen: the pass to keep. why: the condition, or the end, that stopped it; else ""."""

    chosen: Pass
    ending: Ending
    why: str = ""


def tell(search: Search, result: Pass) -> Search:
    """The search with one more pass."""
    return replace(search, passes=(*search.passes, result))


def excess_of(values: Mapping[str, float | None], key: str, goal: float, sign: int) -> float:
    """How far a measurement lies past its goal. sign: +1 when larger is further, -1 for a floor.

    A measurement that does not exist counts as infinitely far below.
    """
    value = values.get(key)
    return -math.inf if value is None else sign * (value - goal)
