"""Whether a master made again is what it was, and how well the plugins repeat themselves at all."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import Enum
from pathlib import Path

from sweeper.audio import inspect
from sweeper.audio.null import Null, null_test
from sweeper.recall.rendering import one_render
from sweeper.recall.stagewise import first_other, stagewise
from sweeper.records import Sheet
from sweeper.render.job import Job, Rendered
from sweeper.workers import Pool

#: Then and now may be so much further apart than two renders of now: peaks of what differs by chance scatter. Ours, no
#: source; noise of one level and a minute's length scatters by less than 2 dB.
MARGIN_DB = 6.0


class Verdict(Enum):
    """How a master that was made again compares."""

    IDENTICAL = "identical"
    AS_CLOSE_AS_IT_REPEATS = "as close as it repeats"
    DIFFERS = "differs"

    @property
    def came_back(self) -> bool:
        """Whether it is the master again, as far as its plugins allow."""
        return self is not Verdict.DIFFERS


@dataclass(frozen=True)
class Floor:
    """What two renders of now differ by. peak_dbfs: None = in nothing. stage: the first that does not repeat itself,
    "" where all do or it is not known which.
    """

    peak_dbfs: float | None
    stage: str = ""

    def as_data(self) -> dict[str, object]:
        """For JSON."""
        return {"repeats": self.peak_dbfs is None, "peak_dbfs": self.peak_dbfs, "stage": self.stage or None}


def verdict(identical: bool, null: Null | None, floor: Floor | None) -> Verdict:
    """The verdict on a render. null: against the old one, None = that is gone. floor: None = it was not looked for."""
    if identical:
        return Verdict.IDENTICAL
    if null is None or floor is None or floor.peak_dbfs is None or null.frames[0] != null.frames[1]:
        return Verdict.DIFFERS
    if null.peak_dbfs is not None and null.peak_dbfs <= floor.peak_dbfs + MARGIN_DB:
        return Verdict.AS_CLOSE_AS_IT_REPEATS
    return Verdict.DIFFERS


def floor_of(made: Rendered, job: Job, sheet: Sheet, target: Path, watch: Callable[[dict[str, object]], None]) -> Floor:
    """Render a job once more, in a fresh process, and see what of it comes out the same.

    made: what came of it. sheet: as `made` has it. target: where the second render may lie for a moment.
    """
    with Pool(1, watch) as pool:
        once_more = one_render(replace(job, target=target), pool, lambda: None)
    if once_more.audio_sha256 == made.audio_sha256:
        return Floor(None)
    null = null_test(inspect(target), inspect(job.target))
    other, _ = first_other(stagewise(sheet, replace(sheet, stages=once_more.stages)))
    return Floor(null.peak_dbfs, other.name if other else "")
