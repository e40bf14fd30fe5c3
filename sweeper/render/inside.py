"""What is asked about the inside of a chain, and what was found: residue, attenuation, distortion; plain values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from sweeper.host.setup import StageSetup
from sweeper.meter.harmonics import Harmonics
from sweeper.meter.passage import MOST_S
from sweeper.meter.quiet_copy import Explained
from sweeper.render.job import BLOCK_FRAMES, KnownFile, MixFile, StoredStep

TONE_HZ = 1000.0
BYPASSED = "it is bypassed"
NOTHING_IN = "nothing comes in: there is no level for a tone"
RIDES_REST = "rides rest: every setting stands where it stands outside them"


@dataclass(frozen=True)
class Look:
    """What to look at: the stage of that number in the order's `stages`; None = the whole chain.

    music: whether residue and attenuation are wanted. tone: whether distortion is. tone_hz: about which frequency.
    tone_dbfs: the tone's RMS; None = the level of what the stage gets in the passage. repeats_db: by how much two
    renders of it differ, RMS against the sound; None = not at all, or not known.
    """

    stage: int | None
    music: bool = True
    tone: bool = True
    tone_hz: float = TONE_HZ
    tone_dbfs: float | None = None
    repeats_db: float | None = None


@dataclass(frozen=True)
class InsideOrder:
    """Look inside a chain as one variant has it. stages: as rendered, what was solved where it ended.

    most_s: how long the passage may be, whole seconds. start: the stored step to start from, before the first stage
    that is looked at; None = the mix. The rest as in a Job.
    """

    mix: MixFile
    stages: tuple[StageSetup, ...]
    looks: tuple[Look, ...]
    patience_s: float
    most_s: int = MOST_S
    block_frames: int = BLOCK_FRAMES
    start: StoredStep | None = None
    files: Mapping[str, KnownFile] = field(default_factory=dict)

    def at_rest(self) -> InsideOrder:
        """The same with no ride, and no further than the last stage that is looked at.

        Raises ValueError when a look does not fit the order.
        """
        covered = self.start.covered if self.start else 0
        numbers = [len(self.stages) - 1 if look.stage is None else look.stage for look in self.looks]
        first = min((0 if look.stage is None else look.stage for look in self.looks), default=0)
        if not numbers or first < covered or max(numbers) >= len(self.stages):
            raise ValueError(f"looks at {numbers} are not among stages {covered} to {len(self.stages) - 1}")
        return replace(self, stages=tuple(replace(setup, rides=()) for setup in self.stages[: max(numbers) + 1]))


@dataclass(frozen=True)
class Seen:
    """What one look found. stage: its number, None = the whole chain. name: the stage's, "" for the chain.

    level_dbfs: RMS of what went in, in the passage; None = silence. tone_dbfs: that of the tone that went in. music,
    tone: None where not asked for, or where there is nothing to tell: then `remarks` say why.
    """

    stage: int | None
    name: str
    level_dbfs: float | None
    tone_dbfs: float | None
    music: Explained | None
    tone: Harmonics | None
    remarks: tuple[str, ...] = ()

    @property
    def measured(self) -> Mapping[str, float | None]:
        """By the keys of `quantities`: residue_db, attenuation_db, distortion_pct; None where it does not exist."""
        return {
            "residue_db": self.music.residue_db if self.music else None,
            "attenuation_db": self.music.attenuation_db if self.music else None,
            "distortion_pct": self.tone.thd_pct if self.tone else None,
        }


@dataclass(frozen=True)
class Inside:
    """What came of an order, a `Seen` for each look in its order. from_s, to_s: the passage in the mix.

    notes: what an engineer should know of all of it. plugin_s: seconds inside the plugins; wall_s: in all.
    """

    from_s: float
    to_s: float
    seen: tuple[Seen, ...]
    notes: tuple[str, ...]
    plugin_s: float
    wall_s: float

    def as_data(self) -> dict[str, Any]:
        """For JSON, in tables and on sheets."""
        return asdict(self)

    @staticmethod
    def from_data(data: Mapping[str, Any]) -> Inside:
        """Back from `as_data`, through JSON too. Raises KeyError or TypeError for what it did not write."""
        seen = tuple(_seen(each) for each in data["seen"])
        return Inside(**{**data, "seen": seen, "notes": tuple(data["notes"])})


def _seen(data: Mapping[str, Any]) -> Seen:
    music, tone = data["music"], data["tone"]
    explained = Explained(**{**music, "remarks": tuple(music["remarks"])}) if music else None
    harmonics = Harmonics(**{**tone, "dbc": tuple(tone["dbc"])}) if tone else None
    return Seen(**{**data, "music": explained, "tone": harmonics, "remarks": tuple(data["remarks"])})
