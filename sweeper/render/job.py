"""One variant as a worker gets it and gives it back; plain values that travel between processes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from sweeper.host.setup import StageSetup
from sweeper.plan.reach import Direction, Ending
from sweeper.quantities import Measurements
from sweeper.records import Source, StageRecord

#: Frames of one block as the plugins get it. A power of two: some plugins go dry at odd sizes.
BLOCK_FRAMES = 1024


@dataclass(frozen=True)
class GoalOrder:
    """A measurement that the drive is held against.

    sign: +1 when it grows past the goal, -1 for a floor. within: how close counts as on it. one_sided: it may not be
    passed at all.
    """

    key: str
    goal: float
    sign: int
    within: float
    one_sided: bool
    text: str


@dataclass(frozen=True)
class ReachOrder:
    """What to solve: a setting of the stage with that number, toward the goals."""

    stage: int
    setting: str
    side: str
    direction: Direction
    goals: tuple[GoalOrder, ...]


@dataclass(frozen=True)
class Job:
    """One variant to render. sections: name -> frame ranges. target: where render.wav goes.

    tag: the opaque id for the file. patience_s: how long a plugin may show no sign of life.
    """

    variant: str
    title: str
    mix: Path
    sections: Mapping[str, tuple[tuple[int, int], ...]]
    stages: tuple[StageSetup, ...]
    reach: ReachOrder | None
    target: Path
    tag: str
    date: str
    time: str
    patience_s: float
    block_frames: int = BLOCK_FRAMES


@dataclass(frozen=True)
class Solved:
    """How a reach ended. at: where the setting stands, in `unit`. value: the measurement there.

    why: the `stop at` condition, or the end of the setting, that stopped it; "" on target.
    """

    key: str
    goal: float
    value: float | None
    ending: Ending
    setting: str
    at: float
    unit: str
    passes: int
    why: str


@dataclass(frozen=True)
class Rendered:
    """What came of a job. passes: full renders done. plugin_s: seconds spent inside the plugins."""

    measurements: Measurements
    source: Source
    stages: tuple[StageRecord, ...]
    solved: Solved | None
    notes: tuple[str, ...]
    audio_sha256: str
    passes: int
    plugin_s: float
    wall_s: float
