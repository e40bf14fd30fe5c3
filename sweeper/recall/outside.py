"""What came back from outside when a master was made, as its run kept it."""

from __future__ import annotations

from pathlib import Path

from sweeper.errors import SheetError, StoreDamaged
from sweeper.recall.find import Found
from sweeper.render.job import StoredStep
from sweeper.render.outside import STEPS
from sweeper.render.store.entry import described


def came_back(found: Found, results: Path) -> StoredStep | None:
    """The step behind the sheet's last stage outside; None when it has none.

    It is looked for in the sheet's own run, then in every run under `results`. Raises SheetError when none holds it.
    """
    outside = [number for number, stage in enumerate(found.sheet.stages) if stage.returned and not stage.bypass]
    if not outside:
        return None
    stage = found.sheet.stages[outside[-1]]
    for folder in (found.run / STEPS, *sorted(results.absolute().glob(f"*/{STEPS}"))):
        for place in sorted(folder.glob("*/*.json")):
            try:
                stages = described(folder, place.stem).stages
            except StoreDamaged:  # another's, perhaps: this one's is told below when it is not found
                continue
            if stages and stages[-1].returned == stage.returned:
                return StoredStep(folder, place.stem, outside[-1] + 1)
    raise SheetError(f"what came back from '{stage.name}' is no longer in {found.run / STEPS}",
                     f"put the folder of the run back as it was; it was made of {stage.returned[0].file}")  # fmt: skip
