"""`sequence`: which inserts are in, and in which order."""

from __future__ import annotations

from collections.abc import Sequence

from sweeper.chain.document import Node
from sweeper.chain.faults import KEEP_ONE, Faults
from sweeper.chain.model import Stage
from sweeper.chain.nearest import nearest, quoted
from sweeper.chain.shapes import Field, folded, listed, single
from sweeper.chain.stages import StageNames

EXAMPLE = "write e.g. [[glue], [colour, glue]]"
Order = tuple[str, ...]


def read_sequence(field: Field, names: StageNames, faults: Faults) -> tuple[Order, ...]:
    """Every order to try, as the names of the stages that are in; () = none of those that may leave."""
    if not field.value.items:
        faults.add(field.value.mark, "'sequence' needs the orders to compare", EXAMPLE)
        return ()
    found: dict[Order, Node] = {}
    for item in listed(field.value, "sequence", faults):
        order = _order(item, names, faults)
        if order is None:
            continue
        first = found.setdefault(order, item)
        if first is not item:
            faults.add(item.mark, f"{quoted(in_words(order))} stands twice; first on line {first.mark.line}", KEEP_ONE)
    return tuple(found)


def in_words(order: Order) -> str:
    """An order as the table shows it: "glue > colour"; "none" when all are out."""
    return " > ".join(order) or "none"


def in_place(stages: Sequence[Stage], sequence: Sequence[Order], order: Order) -> tuple[int, ...]:
    """The numbers of the stages as one order of the `sequence` has them, the output stages included.

    Inserts named in any order may move: the k-th of this order takes the place of the k-th of them in the file, and
    places left over stay empty.
    """
    movable = {name for each in sequence for name in each}
    numbers = {stage.name: number for number, stage in enumerate(stages)}
    coming = iter(order)
    placed = (next(coming, None) if stage.name in movable else stage.name for stage in stages)
    return tuple(numbers[name] for name in placed if name is not None)


def _order(node: Node, names: StageNames, faults: Faults) -> Order | None:
    """The names of one order; None with a fault when it is none, or one of them is no insert."""
    if node.items is None:
        faults.add(node.mark, f"an order in 'sequence' is {node.kind}, not a list", f"{EXAMPLE}; [] for none of them")
        return None
    found: list[str] = []
    items = listed(node, "an order in 'sequence'", faults)
    for item in items:
        name = _insert(item, names, faults)
        if name in found:
            faults.add(item.mark, f"{quoted(name)} stands twice in one order", KEEP_ONE)
        elif name is not None:
            found.append(name)
    return tuple(found) if len(found) == len(node.items) else None


def _insert(node: Node, names: StageNames, faults: Faults) -> str | None:
    text = single(node, "an insert in 'sequence'", faults, "write the insert's name")
    if text is None:
        return None
    stage = names.stages.get(folded(text))
    if stage is not None and _fixed(stage) is None:
        return stage.name
    inserts = [each.name for each in names.stages.values() if _fixed(each) is None]
    near, known = nearest(text, inserts), f"inserts here: {', '.join(inserts) or 'none'}"
    if stage is not None:
        faults.add(node.mark, f"{quoted(stage.name)} {_fixed(stage)} and does not move", f"name inserts; {known}")
    elif names.complete:
        faults.add(node.mark, f"no insert is called {quoted(text)}", f"did you mean '{near}'?" if near else known)
    return None


def _fixed(stage: Stage) -> str | None:
    """Why a stage cannot move; None when it can."""
    if stage.is_fader:
        return "is a bus"
    if stage.bus:
        return "stands on a bus"
    if stage.outside:
        return "stands outside"
    return "stands in 'output'" if stage.output else None
