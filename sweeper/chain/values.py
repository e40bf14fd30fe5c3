"""Setting values: numbers, shares of a control's way, on and off, and the texts that plugins show."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import TypeVar

from sweeper.chain.document import Node
from sweeper.chain.faults import KEEP_ONE, Faults
from sweeper.chain.model import Choice, FromDialled, Number, SettingValue, Switch, Travel
from sweeper.chain.nearest import quoted
from sweeper.chain.shapes import single
from sweeper.units import SPELLINGS, Amount, parse_amount, same_unit

SWITCH_WORDS = {"on": True, "yes": True, "true": True, "off": False, "no": False, "false": False}
KNOWN_UNITS = frozenset(SPELLINGS.values())
# A unit of a plugin's own, e.g. "3 st": short, apart from the number. "4:1" and "1176 Revision" are texts.
OWN_UNIT = re.compile(r"[\d.,]\s+[^\W\d_/:]{1,4}$")

#: What a single text can be; `from dialled` is a list's to say.
Written = Number | Travel | Switch | Choice
V = TypeVar("V", bound=SettingValue)


def setting_value(text: str) -> Written:
    """Read one value as written; what is no number and no switch is a text that the plugin shows."""
    if text.casefold() in SWITCH_WORDS:
        return Switch(SWITCH_WORDS[text.casefold()], text)
    amount = parse_amount(text)
    if amount is None or not (amount.unit in KNOWN_UNITS or OWN_UNIT.search(text)):
        return Choice(text)
    if amount.unit == "% travel":
        return Travel(amount.value / 100, text)
    return Number(amount.value, amount.unit, text)


def read_value(node: Node, what: str, faults: Faults, step: bool = False) -> Written | None:
    """A setting's value, or a step away from one; None with a fault when it has none that could be right."""
    value = read_setting_value(node, what, faults)
    if isinstance(value, Travel) and not (-1 if step else 0) <= value.fraction <= 1:
        faults.add(node.mark, f"{quoted(value.text)} is beyond the control's way",
                   f"write {'-100' if step else '0'} to 100 % travel")
        return None
    return value if value is None or finite(node, value, faults) else None


def read_setting_value(node: Node, what: str, faults: Faults) -> Written | None:
    """What is written, in range or not; None with a fault when it is no single value."""
    if node.text is None:
        faults.add(node.mark, f"{what} is {node.kind}, not a single value",
                   "write one value here; values to compare go under 'vary'")
        return None
    if node.empty and re.fullmatch(r"[\d.]+", what):
        faults.add(node.mark, f"'{what}' stands alone: a comma inside {{ }} or [ ] starts a new entry",
                   "write a decimal point, or put the number in quotes")
        return None
    text = single(node, what, faults)
    return None if text is None else setting_value(text)


def finite(node: Node, value: SettingValue, faults: Faults) -> bool:
    """Whether a number is one that can be reckoned with; a fault when it is not."""
    if isinstance(value, Number) and not math.isfinite(value.value):
        faults.add(node.mark, f"{quoted(value.text)} is too large", "check the number")
        return False
    return True


def once_each(
    found: Sequence[tuple[Node, V | None]], what: str, faults: Faults
) -> tuple[V, ...]:
    """The values that are there; two that ask for the same are a fault."""
    kept: list[V] = []
    for node, value in found:
        if value is None:
            continue
        if any(same_value(value, other) for other in kept):
            faults.add(node.mark, f"{quoted(value.text)} stands twice in '{what}'", KEEP_ONE)
        kept.append(value)
    return tuple(kept)


def read_switch(node: Node, what: str, faults: Faults) -> bool | None:
    """on or off."""
    text = single(node, what, faults)
    if text is None:
        return None
    if text.casefold() not in SWITCH_WORDS:
        faults.add(node.mark, f"{what} is {quoted(text)}", "write on or off")
        return None
    return SWITCH_WORDS[text.casefold()]


def read_amount(node: Node, what: str, unit: str, faults: Faults) -> float | None:
    """A number in `unit`; one without a unit is taken to be in it."""
    text = single(node, what, faults)
    return None if text is None else amount_in(text, node, what, unit, faults)


def amount_in(text: str, node: Node, what: str, unit: str, faults: Faults) -> float | None:
    """The value of `text` in `unit`; None with a fault at the node when it is none."""
    amount = parse_amount(text)
    if amount is None or not math.isfinite(amount.value):
        faults.add(node.mark, f"{what} is {quoted(text)}, not a number", f"write a number{_in(unit)}")
        return None
    value = same_unit(amount, unit)
    if value is None:
        faults.add(node.mark, f"{quoted(text)} is in {amount.unit}, {what} {_is_in(unit)}",
                   f"write a number{_in(unit)}")
    return value


def same_value(one: SettingValue, other: SettingValue) -> bool:
    """Whether two values ask for the same thing: 100 Hz and 0.1 kHz, on and yes."""
    if isinstance(one, Number) and isinstance(other, Number):
        if one.unit == "" or other.unit == "":
            return (one.value, one.unit) == (other.value, other.unit)
        converted = same_unit(Amount(other.value, other.unit), one.unit)
        return converted is not None and math.isclose(one.value, converted, rel_tol=1e-9, abs_tol=1e-12)
    if isinstance(one, Travel) and isinstance(other, Travel):
        return math.isclose(one.fraction, other.fraction, abs_tol=1e-9)
    if isinstance(one, Switch) and isinstance(other, Switch):
        return one.on == other.on
    if isinstance(one, Choice) and isinstance(other, Choice):
        return one.text.casefold() == other.text.casefold()
    if isinstance(one, FromDialled) and isinstance(other, FromDialled):
        return one.text == other.text == "as dialled" or same_value(one.offset, other.offset)
    return False


def _in(unit: str) -> str:
    return f" in {unit}" if unit else " without a unit"


def _is_in(unit: str) -> str:
    return f"is in {unit}" if unit else "has no unit"
