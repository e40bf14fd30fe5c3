"""One variant as a worker gets it and gives it back; plain values that travel between processes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sweeper.audio import file_hash
from sweeper.chain.goals import CAPPED
from sweeper.host.setup import StageSetup
from sweeper.plan.reach import Direction, Ending
from sweeper.quantities import Measurements
from sweeper.records import HandleRecord, Source, StageRecord

#: Frames of one block as the plugins get it. A power of two: some plugins go dry at odd sizes.
BLOCK_FRAMES = 1024
#: Of a tone, unless another is asked for: where every stage passes it and its harmonics lie in the band.
TONE_HZ = 1000.0


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
    """What to solve: a setting of the stage with that number, toward the first of the goals.

    goals: the target, then the bounds of `stop at`. taught: what the variant's teacher learnt of it; None = nothing.
    ride: the ride whose amount is solved, "" = the setting itself; sign: as `Turn` has it. measured: the number of the
    stage that the target looks at; None = the whole. as_taught: nothing is solved: the setting goes where the teacher's
    stood.
    """

    stage: int
    setting: str
    side: str
    direction: Direction
    goals: tuple[GoalOrder, ...]
    taught: Taught | None = None
    ride: str = ""
    sign: int = 1
    measured: int | None = None
    as_taught: bool = False


@dataclass(frozen=True)
class Taught:
    """What one variant's reach hands to the next. at: where the setting stood at the end, in its unit.

    slope: the measurement's change for one unit of the setting there; None = not known. beyond: what a full render
    measured over what excerpts had foretold, in the measurement's unit; None = none were played.
    """

    at: float
    slope: float | None
    beyond: float | None = None


@dataclass(frozen=True)
class StoredStep:
    """A step in the store. folder: the store's.

    covered: how many of a job's stages lie behind it, bypassed ones counted.
    """

    folder: Path
    key: str
    covered: int


@dataclass(frozen=True)
class MixFile:
    """The mix that a job renders. file: as it was when the run began; stamp: (size, time of change) then."""

    source: Source
    stamp: tuple[int, int]

    @property
    def path(self) -> Path:
        """Where it is."""
        return Path(self.source.file)


@dataclass(frozen=True)
class KnownFile:
    """A plugin's code or a state file as it was when the run began. stamp: its (size, time of change) then."""

    path: Path
    sha256: str
    stamp: tuple[int, int]


def stamp_of(path: Path) -> tuple[int, int]:
    """(size, time of change) of a file, by which a change is noticed."""
    stat = path.stat()
    return stat.st_size, stat.st_mtime_ns


def changed(known: KnownFile) -> bool:
    """Whether a file is another one now; one that was only written again is not."""
    try:
        return stamp_of(known.path) != known.stamp and file_hash(known.path) != known.sha256
    except OSError:  # it is not there any more
        return True


@dataclass(frozen=True)
class Look:
    """What to look at: the stage of that number in the order's `stages`; None = the whole chain.

    music: whether residue and attenuation are wanted. tone: whether distortion is. tone_hz: about which frequency.
    tone_dbfs: the tone's RMS; None = the level of what the stage gets in the passage. repeats_dbfs: the peak of what
    two renders of it differ by; None = not at all, or not known.
    """

    stage: int | None
    music: bool = True
    tone: bool = True
    tone_hz: float = TONE_HZ
    tone_dbfs: float | None = None
    repeats_dbfs: float | None = None


@dataclass(frozen=True)
class Job:
    """One variant to render. sections: name -> frame ranges. target: where render.wav goes, the sheet beside it.

    tag: the opaque id for the file. patience_s: how long a plugin may show no sign of life. start: the stored step to
    start from; None = the mix. passing: a step to store while the variant is rendered. repeats: of each stage, as its
    record has it; () = nothing is known. looks: what to look at when the variant is rendered; looks_each_pass: those of
    them that a reach is held against. unseen: measurements of stages that cannot be looked at, and why. look_start: the
    stored step behind the last stage outside, from which looks start; None = the mix. tapped: stages behind which every
    pass is measured too, none of them shared. handles: of each stage, as its record has them; () = none is known.
    parent, change: as the sheet has them.
    """

    variant: str
    title: str
    mix: MixFile
    sections: Mapping[str, tuple[tuple[int, int], ...]]
    stages: tuple[StageSetup, ...]
    reach: tuple[ReachOrder, ...]
    target: Path
    tag: str
    date: str
    time: str
    patience_s: float
    block_frames: int = BLOCK_FRAMES
    start: StoredStep | None = None
    passing: StoredStep | None = None
    files: Mapping[str, KnownFile] = field(default_factory=dict)
    repeats: tuple[str, ...] = ()
    looks: tuple[Look, ...] = ()
    looks_each_pass: tuple[Look, ...] = ()
    unseen: Mapping[str, str] = field(default_factory=dict)
    look_start: StoredStep | None = None
    tapped: tuple[int, ...] = ()
    handles: tuple[tuple[HandleRecord, ...], ...] = ()
    parent: str = ""
    change: str = ""


@dataclass(frozen=True)
class StepJob:
    """One step to render and store: `stages` up to and with its own. Else as in a Job."""

    mix: MixFile
    stages: tuple[StageSetup, ...]
    target: StoredStep
    patience_s: float
    block_frames: int = BLOCK_FRAMES
    start: StoredStep | None = None
    files: Mapping[str, KnownFile] = field(default_factory=dict)


@dataclass(frozen=True)
class Solved:
    """How a reach ended. at: where the setting stands, in `unit`. value: the measurement there.

    why: the `stop at` condition, or the end of the setting, that stopped it; "" on target. passes: of the variant.
    slope: the measurement's change for one unit of the setting there; None = not known. beyond: as `Taught` has it.
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
    slope: float | None = None
    beyond: float | None = None

    @property
    def missed(self) -> bool:
        """Its target is not met: out of reach or, with another mix's settings, a peak above what it may be."""
        over = self.key in CAPPED and self.value is not None and self.value > self.goal
        return self.ending is Ending.OUT_OF_REACH or (self.ending is Ending.AS_MAIN and over)

    def as_data(self) -> dict[str, object]:
        """For JSON, in tables and on sheets."""
        return {
            "measurement": self.key, "goal": self.goal, "value": self.value, "ending": self.ending.value,
            "why": self.why or None, "setting": self.setting, "at": self.at, "unit": self.unit,
            "passes": self.passes, "slope": self.slope, "beyond": self.beyond,
        }  # fmt: skip

    @staticmethod
    def from_data(data: Mapping[str, Any]) -> Solved:
        """Back from `as_data`. Raises KeyError or ValueError for what it did not write."""
        return Solved(
            data["measurement"], data["goal"], data["value"], Ending(data["ending"]), data["setting"], data["at"],
            data["unit"], data["passes"], data["why"] or "", data.get("slope"), data.get("beyond"),
        )  # fmt: skip


@dataclass(frozen=True)
class Rendered:
    """What came of a job. passes: full renders done. steps: stages times passes. plugin_s: seconds inside the plugins.

    trouble: why a step could not be stored in passing, "" else. behind: what was measured behind each tapped stage.
    excerpts: what was played of the mix to find out where to render, in full renders.
    """

    measurements: Measurements
    source: Source
    stages: tuple[StageRecord, ...]
    solved: tuple[Solved, ...]
    notes: tuple[str, ...]
    audio_sha256: str
    passes: int
    plugin_s: float
    wall_s: float
    steps: int = 0
    trouble: str = ""
    behind: tuple[Measurements, ...] = ()
    excerpts: float = 0.0


@dataclass(frozen=True)
class Stored:
    """What came of a step's job. steps: how many stages were rendered. plugin_s: seconds inside the plugins."""

    steps: int
    plugin_s: float
    wall_s: float
