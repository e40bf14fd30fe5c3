"""What is asked about the inside of a chain, and what was found: residue, attenuation, distortion; plain values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

from sweeper.host.setup import StageSetup
from sweeper.meter.harmonics import Harmonics
from sweeper.meter.passage import MOST_S
from sweeper.meter.quiet_copy import NO_SOUND, Explained
from sweeper.quantities import NO_HARMONICS, QUANTITIES
from sweeper.render.job import BLOCK_FRAMES, KnownFile, Look, MixFile, StoredStep

#: Of `quantities`: what is found by quiet copies of the music, and by a tone.
MUSIC_KEYS = tuple(q.key for q in QUANTITIES if q.inside and q.key.startswith(("attenuation", "residue")))
TONE_KEYS = tuple(q.key for q in QUANTITIES if q.inside and q.key not in MUSIC_KEYS)
BYPASSED = "it is bypassed"
NOT_IN = "it is not in this variant"
BEFORE_RETURN = "it stands before what came back from outside"
ONE_OUTSIDE = "one of its stages stands outside"
#: Where there is nothing to find: no limit can be broken there.
NOT_HEARD = frozenset({BYPASSED, NOT_IN})
NOTHING_IN = "nothing comes in: there is no level for a tone"
#: A stage may need so long after its reset until it is at rest; a quiet copy lifts what it does until then to more than
#: the music. Ours: a packaged tube stage takes 0.2 s. A tenth of a short take.
LEAD_S = 1.0
RIDES_REST = "rides rest: every setting stands where it stands outside them"


@dataclass(frozen=True)
class InsideOrder:
    """Look inside a chain as one variant has it. stages: as rendered, what was solved where it ended.

    most_s: how long the passage may be, whole seconds. start: the stored step to start from, before the first stage
    that is looked at; None = the mix. folder: where takes may lie meanwhile, None = where the system has such things.
    The rest as in a Job.
    """

    mix: MixFile
    stages: tuple[StageSetup, ...]
    looks: tuple[Look, ...]
    patience_s: float
    most_s: int = MOST_S
    block_frames: int = BLOCK_FRAMES
    start: StoredStep | None = None
    files: Mapping[str, KnownFile] = field(default_factory=dict)
    folder: Path | None = None

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
        """By the keys of `quantities`, those of music and of the tone; None where it does not exist."""
        music, tone = self.music, self.tone
        share = music.working_share if music else None
        return {
            "attenuation_db": music.attenuation_db if music else None,
            "attenuation_median_db": music.median_db if music else None,
            "attenuation_most_db": music.most_db if music else None,
            "attenuation_share_pct": None if share is None else 100 * share,
            "residue_db": music.residue_db if music else None,
            "residue_floor_db": music.floor_db if music else None,
            "distortion_pct": tone.thd_pct if tone else None,
            "distortion_floor_pct": tone.floor_pct if tone else None,
            "second_harmonic_db": tone.dbc[0] if tone else None,
            "third_harmonic_db": tone.dbc[1] if tone else None,
        }

    def findings(self, look: Look | None = None) -> tuple[dict[str, float | None], dict[str, str]]:
        """What a look asked for, by key, a stage's with its name before it; and why what is None does not exist.

        look: None = it asked for everything.
        """
        before = f"{self.name}." if self.name else ""
        asked = (*(MUSIC_KEYS if look is None or look.music else ()), *(TONE_KEYS if look is None or look.tone else ()))
        values = {before + key: self.measured[key] for key in asked}
        why = {before + key: self._why(key in TONE_KEYS) for key in asked if self.measured[key] is None}
        return values, why

    def _why(self, of_tone: bool) -> str:
        if BYPASSED in self.remarks:
            return BYPASSED
        if of_tone:
            return NOTHING_IN if self.tone is None else self.tone.remark or NO_HARMONICS
        return NO_SOUND


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
    lists = {key: tuple(music.get(key, ())) for key in ("remarks", "over_time_db")} if music else {}
    explained = Explained(**{**music, **lists}) if music else None
    harmonics = Harmonics(**{**tone, "dbc": tuple(tone["dbc"])}) if tone else None
    return Seen(**{**data, "music": explained, "tone": harmonics, "remarks": tuple(data["remarks"])})
