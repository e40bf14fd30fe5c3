"""What workers are asked to try on stages before a run, and what they found; plain values."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from sweeper.audio import AudioFormat
from sweeper.host.finding import Finding
from sweeper.host.setup import StageSetup

#: From here on a delay counts as wrong. Ours, not tried otherwise.
LATE_FRAMES = 1.5


@dataclass(frozen=True)
class TrialOrder:
    """Run noise through one stage as it is set. block_frames, patience_s: as in a Job."""

    setup: StageSetup
    format: AudioFormat
    block_frames: int
    patience_s: float


@dataclass(frozen=True)
class Tried:
    """What noise showed of a stage.

    reported_frames: the delay that its plugin reports, as set. taken_out_frames: what is taken out: the same, or what
    the chain file says. late_frames: how much later than its input the output is after that, negative = early; None =
    it cannot be told. inverted: its polarity is turned over. findings: what it did that is not meant.
    """

    reported_frames: int
    taken_out_frames: int
    late_frames: float | None
    inverted: bool
    findings: tuple[Finding, ...]

    @property
    def is_late(self) -> bool:
        """Whether the delay that is taken out is wrong: by a frame and a half, for filters delay a little too."""
        return self.late_frames is not None and abs(self.late_frames) >= LATE_FRAMES

    @property
    def true_frames(self) -> int:
        """The delay that should be taken out; what is taken out where it cannot be told."""
        return self.taken_out_frames + round(self.late_frames or 0.0)


@dataclass(frozen=True)
class TwiceOrder:
    """Render a stretch of a mix through stages, each on what it gets in the chain, and compare with an earlier render.

    stages: in the order of the signal, all heard. duration_s: of the stretch, the loudest of the mix. folder: where the
    earlier render is; when it is empty, one is made first, in the same process.
    """

    mix: Path
    stages: tuple[StageSetup, ...]
    duration_s: float
    block_frames: int
    patience_s: float
    folder: Path


@dataclass(frozen=True)
class Residual:
    """What is left of one render when another is taken from it. peak_dbfs: None = nothing, they are identical.

    relative_db: its RMS over that of the sound; None where either is nothing.
    """

    peak_dbfs: float | None
    relative_db: float | None


@dataclass(frozen=True)
class Repeats:
    """Whether a stage, or the chain, gives the same twice: in one process after a reset, and in a fresh process."""

    again: Residual
    fresh: Residual

    @property
    def floor_dbfs(self) -> float | None:
        """The peak of what differs from one process to the next; None = nothing does."""
        return self.fresh.peak_dbfs

    @property
    def verdict(self) -> str:
        """In words."""
        again, fresh = self.again.peak_dbfs, self.fresh.peak_dbfs
        if again is None and fresh is None:
            return "repeats"
        if fresh is None:
            return f"repeats only in a fresh process (else within {_floor(self.again)})"
        if again is None:
            return f"repeats only within one process (else within {_floor(self.fresh)})"
        return f"never repeats (floor {_floor(self.fresh)})"


def _floor(residual: Residual) -> str:
    relative = "" if residual.relative_db is None else f", {residual.relative_db:.0f} dB against the sound"
    return f"{residual.peak_dbfs:.1f} dBFS{relative}"
