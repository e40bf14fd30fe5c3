"""`from dialled`: values as steps away from where a setting is dialled."""

from __future__ import annotations

from collections.abc import Mapping

from sweeper.chain.document import Node
from sweeper.chain.faults import Faults
from sweeper.chain.model import FromDialled, Number, Travel
from sweeper.chain.nearest import quoted
from sweeper.chain.shapes import Field, listed
from sweeper.chain.values import once_each, read_value
from sweeper.units import Amount

KEY = "from dialled"
EXAMPLE = "write e.g. [-1 dB, 0 dB, 1 dB] or [0 % travel, 5 % travel]"


def read_from_dialled(field: Field, known: Mapping[str, Field], faults: Faults) -> tuple[FromDialled, ...]:
    """The steps of a `from dialled` list. field: the setting varied; known: the keys under it."""
    for name in known:
        if name != KEY:
            faults.add(known[name].mark, f"'{name}' stands beside '{KEY}'", f"take one of them out; {EXAMPLE}")
    steps = known[KEY]
    if not steps.value.items:
        faults.add(steps.value.mark, f"'{KEY}' needs the steps to compare", EXAMPLE)
        return ()
    return once_each([(item, _step(item, faults)) for item in listed(steps.value, KEY, faults)], field.name, faults)


def _step(node: Node, faults: Faults) -> FromDialled | None:
    value = read_value(node, KEY, faults, step=True)
    if value is None:
        return None
    if isinstance(value, Number):
        return FromDialled(value, in_words(value.value, value.unit))
    if isinstance(value, Travel):
        return FromDialled(value, in_words(value.fraction * 100, "% travel"))
    faults.add(node.mark, f"{quoted(value.text)} is no step away from where a setting is dialled", EXAMPLE)
    return None


def in_words(step: float, unit: str) -> str:
    """A step as the table shows it: "dialled +5 % travel", "as dialled" for none."""
    return f"dialled {'+' if step > 0 else ''}{Amount(step, unit)}" if step else "as dialled"
