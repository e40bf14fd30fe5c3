"""The best variants looked into, each stage and the whole: what they do to the music, told beside the table."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from sweeper.plan.tree import Facts, tree
from sweeper.plan.variants import Variant
from sweeper.quantities import Measurements
from sweeper.render.desk import Desk
from sweeper.render.folder import RunFolder
from sweeper.render.inside import Inside, InsideOrder
from sweeper.render.job import Rendered, StoredStep
from sweeper.render.jobs import mix_file
from sweeper.render.looks import Floors, every_look
from sweeper.render.ready import Ready
from sweeper.render.settled import settled
from sweeper.workers import Failed, Task

INSIDE_NAME = "inside.json"
#: So many of each mix are looked into without being asked: each takes some four times its chain on a minute. Ours.
MOST_FINALISTS = 5


@dataclass(frozen=True)
class Finalist:
    """A variant that came out among the best, as it was rendered."""

    variant: Variant
    rendered: Rendered


def looked_into(finalists: Sequence[Finalist], ready: Ready, floors: Floors, folder: RunFolder,
                desk: Desk) -> dict[str, Inside | Failed]:  # fmt: skip
    """What was found in each, by the variant's id; kept beside its sheet, and read from there when it was found before.

    Nobody asked for it: what goes wrong is told and costs nothing else. Raises RunFolderError when what was found
    cannot be written.
    """
    found: dict[str, Inside | Failed] = {}
    orders: dict[str, InsideOrder] = {}
    for one in finalists:
        id = one.variant.id
        if (before := _kept(folder, id)) is not None:
            found[id] = before
        elif (order := _order(one, ready, floors, desk.patience_s)).looks:
            orders[id] = replace(order, folder=folder.path / "variants" / id)
    tasks = [Task(f"inside {id}", "sweeper.render.inside_task:look_inside", order, f"looking into variant {id}")
             for id, order in orders.items()]  # fmt: skip
    for id, outcome in zip(orders, desk.pool.map_in_order(tasks), strict=True):
        if isinstance(outcome, Failed):
            folder.log({"event": "not looked into", "variant": id, "what": outcome.what, "said": outcome.said})
            found[id] = outcome
            continue
        assert isinstance(outcome.value, Inside)
        folder.write_json(f"variants/{id}/{INSIDE_NAME}", outcome.value.as_data())
        found[id] = outcome.value
    return found


def with_inside(measurements: Measurements, inside: Inside) -> Measurements:
    """The measurements of a variant, then what was found in it, in the order of the signal.

    What was found on the way stands.
    """
    values: dict[str, float | None] = {}
    reasons: dict[str, str] = {}
    for seen in inside.seen:
        found, why = seen.findings()
        values |= found
        reasons |= why
    before = measurements.values
    whole = {key: value for key, value in before.items() if key not in values}
    why = {key: reason for key, reason in reasons.items() if key not in before}
    return replace(measurements, values={**whole, **{key: before.get(key, found) for key, found in values.items()}},
                   reasons={**measurements.reasons, **why})  # fmt: skip


def _order(one: Finalist, ready: Ready, floors: Floors, patience_s: float) -> InsideOrder:
    variant = one.variant
    stages = tuple(settled(setup, record) for setup, record in zip(variant.stages, one.rendered.stages, strict=True))
    return InsideOrder(
        mix_file(ready.mixes[variant.mix]), stages, every_look(variant.stages, floors), patience_s,
        start=start_of(variant, ready.facts, ready.outside), files=ready.known,
    )  # fmt: skip


def start_of(variant: Variant, facts: Facts, outside: Mapping[str, Path]) -> StoredStep | None:
    """The step behind the last stage outside; None = there is none."""
    if not any(setup.outside and not setup.bypass for setup in variant.stages):
        return None
    grown = tree([variant], facts)
    key = grown.paths[variant.id].steps[0]
    return StoredStep(outside[key], key, grown.steps[key].covered)


def _kept(folder: RunFolder, id: str) -> Inside | None:
    """What an earlier run of the same folder found; None where it found nothing, or it cannot be read any more."""
    try:
        return Inside.from_data(json.loads((folder.path / "variants" / id / INSIDE_NAME).read_text("utf-8")))
    except (OSError, ValueError, KeyError, TypeError):
        return None
