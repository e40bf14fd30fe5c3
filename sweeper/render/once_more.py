"""A finished variant rendered once more in a fresh process: what two renders of its chain differ by."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from sweeper.plan.variants import Variant
from sweeper.records import StageRecord
from sweeper.render.finalists import start_of
from sweeper.render.folder import RunFolder
from sweeper.render.job import Job, Rendered
from sweeper.render.jobs import mix_file
from sweeper.render.matched_null import MatchedNull, NullOrder, matched_nulls
from sweeper.render.ready import Ready
from sweeper.render.settled import settled
from sweeper.workers import Failed, Pool, Task

PLACE = "once-more"


def rendered_again(variant: Variant, records: Sequence[StageRecord], render: Path, ready: Ready, folder: RunFolder,
                   patience_s: float, fresh: Callable[[], Pool]) -> MatchedNull | Failed | None:  # fmt: skip
    """Render it with everything where it ended, and take that from what it was; nothing of it is kept.

    None where it cannot be put where it ended: a reach solved a ride. records: as its sheet has its stages.
    Raises RunFolderError when the run's folder takes no more.
    """
    if any(turn.ride for turn in variant.turns):
        return None
    stages = tuple(settled(setup, record) for setup, record in zip(variant.stages, records, strict=True))
    with _emptied(folder) as place, fresh() as pool:
        target = place / "render.wav"
        job = Job(variant.id, "", mix_file(ready.mixes[variant.mix]), {}, stages, (), target, "", "", "", patience_s,
                  start=start_of(variant, ready.facts, ready.outside), files=ready.known)  # fmt: skip
        task = Task("again", "sweeper.render.task:render_variant", job, f"variant {variant.id} once more")
        (outcome,) = pool.map_in_order([task])
        if isinstance(outcome, Failed):
            return outcome
        assert isinstance(outcome.value, Rendered)
        (null,) = matched_nulls([NullOrder(render, target, 0.0, 0.0)], pool)
        return null


@contextmanager
def _emptied(folder: RunFolder) -> Iterator[Path]:
    """A place in the run's folder, without what an end by force left in it; gone afterwards."""
    shutil.rmtree(folder.path / PLACE, ignore_errors=True)
    place = folder.subfolder(PLACE)
    try:
        yield place
    finally:
        shutil.rmtree(place, ignore_errors=True)
