"""Two sound files held against each other: what is asked, and what was found; plain values."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from sweeper.audio import SoundFile
from sweeper.audio.null import Null
from sweeper.meter.alignment import Alignment
from sweeper.meter.image import Shift
from sweeper.meter.quiet_copy import Explained
from sweeper.quantities import Measurements

#: One step of 24 bits, 2^-23, and a little for arithmetic in 32 bits.
STEP_DBFS = -138.4


@dataclass(frozen=True)
class CompareOrder:
    """Hold B (`other`) against A (`one`). deep: identify, too, what made B of A."""

    one: Path
    other: Path
    deep: bool = False


@dataclass(frozen=True)
class Deep:
    """What B is to A beyond a filter and a moving gain, over `frames` of A from `first_frame` on."""

    first_frame: int
    frames: int
    explained: Explained


@dataclass(frozen=True)
class Compared:
    """What B (`other`) is to A (`one`).

    as_is: the null test of the files as they are. alignment: None where B is not like A anywhere near.
    first_frame, frames: the stretch of A that B has too; everything but `as_is` is said of it alone.
    louder_db: of B over A; louder_by: the key of the measurement that says so; "null" = the level at which
    the null test leaves least, where that is clearly less; "" = one of them has no level.
    measurements: of A and of B, each as it is. thirds_db: 31 bands from 20 Hz on, B over A once B is as loud as A, None
    where one has nothing. shift: None but for stereo.
    null: B taken from A once it is aligned, as loud and of A's polarity; None without alignment.
    deep: None where it was not asked for.
    """

    one: SoundFile
    other: SoundFile
    as_is: Null
    alignment: Alignment | None
    first_frame: int
    frames: int
    louder_db: float
    louder_by: str
    measurements: tuple[Measurements, Measurements]
    thirds_db: tuple[float | None, ...]
    shift: Shift | None
    null: Null | None
    deep: Deep | None = None

    @property
    def identical(self) -> bool:
        """As long as each other, and sample for sample the same."""
        return self.as_is.identical

    @property
    def same_when_aligned(self) -> bool:
        """The null test leaves no more than a step of 24 bits: they differ in level, time and polarity alone.

        A step of B counts as large as it is once B is as loud as A.
        """
        step_dbfs = STEP_DBFS + max(0.0, -self.louder_db)
        return self.null is not None and (self.null.peak_dbfs is None or self.null.peak_dbfs <= step_dbfs)

    @property
    def left_db(self) -> float | None:
        """RMS of what the null test leaves over the RMS of A; None where either is silent or there is no null test."""
        rms_dbfs = self.measurements[0]["rms_dbfs"]
        if self.null is None or self.null.rms_dbfs is None or rms_dbfs is None:
            return None
        return self.null.rms_dbfs - rms_dbfs
