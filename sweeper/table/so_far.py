"""What a run has come to while it is under way: its rows, and what they were made of."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from sweeper.chain.model import Chain
from sweeper.plan.planned import Plan
from sweeper.plan.variants import Variant
from sweeper.render.desk import Desk
from sweeper.render.executor import Tally
from sweeper.render.folder import RunFolder
from sweeper.render.job import Rendered
from sweeper.render.known_faults import KnownFaults
from sweeper.render.ready import Ready
from sweeper.table.begun import finished
from sweeper.table.row import Row
from sweeper.table.rows import failed_row, in_order, rendered_row
from sweeper.table.tried import with_tried
from sweeper.workers import Failed


@dataclass
class SoFar:
    """What a run has come to, part after part. rendered, rows: by the variant's id. tried: rows of what was tried on
    excerpts, as if they were renders', by id."""

    rendered: dict[str, Rendered]
    rows: dict[str, Row]
    tried: dict[str, Row] = field(default_factory=dict)
    plans: list[Plan] = field(default_factory=list)
    tally: Tally = field(default_factory=Tally)
    faults: KnownFaults = field(default_factory=KnownFaults)


def begun_with(ready: Ready, done: Mapping[str, Rendered], tried: Mapping[str, Row]) -> SoFar:
    """What a run has come to before it goes on. done: what is finished, by the variant's id."""
    return SoFar({**done}, _finished_rows(ready, done), {**tried})


def all_that_is_there(ready: Ready, so_far: SoFar, folder: RunFolder, desk: Desk) -> list[Row]:
    """The rows that are in, and those of variants that a worker had just finished when the run was stopped."""
    desk.pool.close()
    late = _finished_rows(ready, finished(folder, ready.found))
    return with_tried(ready.chain, in_order(ready.found, {**late, **so_far.rows}), so_far.tried)


def row_of(chain: Chain, variant: Variant, outcome: Rendered | Failed, folder: RunFolder) -> Row:
    """The row of what came of a variant; one that failed is swept up after, and told in the log."""
    if isinstance(outcome, Failed):
        folder.sweep_up(f"variants/{variant.id}")
        folder.log({"event": "failed", "variant": variant.id, "what": outcome.what, "said": outcome.said})
        row = failed_row(chain, variant, outcome)
    else:
        row = rendered_row(chain, variant, outcome, _files(variant.id))
    folder.log({"event": "row", "variant": row.id, "status": row.status, "cause": row.cause})
    return row


def _finished_rows(ready: Ready, done: Mapping[str, Rendered]) -> dict[str, Row]:
    return {v.id: rendered_row(ready.chain, v, done[v.id], _files(v.id)) for v in ready.found if v.id in done}


def _files(id: str) -> dict[str, str]:
    place = f"variants/{id}"
    return {"render": f"{place}/render.wav", "matched": f"{place}/matched.wav", "recall": f"{place}/recall.json"}
