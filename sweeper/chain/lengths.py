"""How long something takes: with its unit, because a bare number could be either."""

from __future__ import annotations

import math

from sweeper.chain.document import Node
from sweeper.chain.faults import Faults
from sweeper.chain.nearest import quoted
from sweeper.chain.shapes import single
from sweeper.units import parse_amount, same_unit


def read_length_s(node: Node, what: str, most_s: float, faults: Faults) -> float | None:
    """A length of 0 to `most_s` seconds, written in s or ms; None with a fault when it is none."""
    remedy = f"write 0 s to {most_s:g} s, or ms"
    text = single(node, what, faults, remedy)
    if text is None:
        return None
    amount = parse_amount(text)
    seconds = same_unit(amount, "s") if amount is not None and amount.unit else None
    if seconds is None or not math.isfinite(seconds):
        faults.add(node.mark, f"{what} is {quoted(text)}, no length of time", remedy)
        return None
    if not 0 <= seconds <= most_s:
        faults.add(node.mark, f"{what} of {quoted(text)} is beyond reason", remedy)
        return None
    return seconds
