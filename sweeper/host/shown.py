"""The numbers that a control shows, in one unit, whatever the plugin writes behind them."""

from __future__ import annotations

import math
import re
from decimal import Decimal

from sweeper.host.control import Control, step_positions
from sweeper.units import MULTIPLES, parse_amount

#: Positions at which a continuous control is looked at.
SAMPLES = 65
_NUMBER = re.compile(r"[+-]?\d*[.,]?\d+")


def number_at(control: Control, raw: float) -> float:
    """The number that the plugin shows at `raw`, in `shown_unit`; -inf, or nan where it shows no number."""
    return number_in(control.text_at(raw), control.unit)


def number_in(text: str, label: str) -> float:
    """A shown text as a number: kHz as Hz and s as ms, so that one control has one unit."""
    folded = text.strip().lower().replace("\u221e", "inf")
    if folded.startswith(("-inf", "- inf")):
        return -math.inf
    amount = parse_amount(text)
    if amount is None:
        return math.nan
    unit = amount.unit if amount.unit in _SCALED else _spelled(label)
    return amount.value * (MULTIPLES[unit][1] if unit in MULTIPLES else 1.0)


_SCALED = frozenset(MULTIPLES) | {small for small, _ in MULTIPLES.values()}


def _spelled(label: str) -> str:
    amount = parse_amount(f"1 {label}")
    return amount.unit if amount is not None else label


def shown_unit(control: Control) -> str:
    """The control's unit: its label, or what stands behind its numbers; kHz is Hz and s is ms; "" for none."""
    unit = _spelled(control.unit)
    for raw in (0.5, 0.0, 1.0):
        if unit:
            break
        amount = parse_amount(control.text_at(raw))
        unit = amount.unit if amount is not None and len(amount.unit) <= 6 else ""
    return MULTIPLES[unit][0] if unit in MULTIPLES else unit


def display_step(text: str, label: str) -> float:
    """The smallest change that a shown text can tell: one unit of its last digit, in `shown_unit`."""
    found = _NUMBER.search(text)
    if found is None:
        return 0.0
    exponent = Decimal(found[0].replace(",", ".")).as_tuple().exponent
    one = number_in(text.replace(found[0], "1", 1), label)
    return abs(one) * 10.0 ** int(exponent) if math.isfinite(one) else 0.0


def positions_of(control: Control) -> tuple[float, ...]:
    """Where a control is looked at: its steps, or 65 even positions."""
    steps = step_positions(control)
    return steps if 0 < len(steps) <= 1000 else tuple(k / (SAMPLES - 1) for k in range(SAMPLES))

