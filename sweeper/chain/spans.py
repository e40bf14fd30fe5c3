"""A range of values, {from, to, steps, spacing}, expanded to a list."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import NamedTuple

from sweeper.chain.faults import Faults
from sweeper.chain.model import Number, SettingValue, Spacing, Travel
from sweeper.chain.nearest import quoted
from sweeper.chain.shapes import Field, single
from sweeper.chain.values import read_value
from sweeper.units import Amount, same_unit

MOST_STEPS = 1000
LIST_REMEDY = "write a list, e.g. [1 dB, 2 dB], or {from: 1 dB, to: 4 dB, steps: 4}"


def read_span(
    field: Field, known: Mapping[str, Field], faults: Faults, step: bool = False
) -> tuple[SettingValue, ...]:
    """The values of a range. field: the setting varied; known: the keys under it; step: of a relative amount."""
    ends = _ends(field, known, ("from", "to", "steps"), step, faults)
    steps = _steps(known, faults)
    if ends is None or steps is None:
        return ()
    return tuple(_at(value, ends.unit) for value in spaced(ends.first, ends.last, steps, ends.log))


def read_ends(
    field: Field, known: Mapping[str, Field], faults: Faults, step: bool = False
) -> tuple[tuple[SettingValue, ...], Spacing | None]:
    """The two ends of a range in which any value may be tried, and how the values between them lie; as `read_span`."""
    ends = _ends(field, known, ("from", "to"), step, faults)
    if ends is None:
        return (), None
    return tuple(near(value, ends.unit) for value in (ends.first, ends.last)), (
        Spacing.LOG if ends.log else Spacing.LINEAR)  # fmt: skip


def near(value: float, unit: str) -> Number | Travel:
    """A value of such a range: the nearest that the control can be is meant."""
    made = _at(value, unit)
    return replace(made, near=True) if isinstance(made, Number) else made


class _Ends(NamedTuple):
    first: float
    last: float
    unit: str
    log: bool


def _ends(field: Field, known: Mapping[str, Field], wanted: tuple[str, ...], step: bool,
          faults: Faults) -> _Ends | None:  # fmt: skip
    """Both ends in one unit; None with the faults where there are any. wanted: the keys that have to be there."""
    missing = [key for key in wanted if key not in known]
    if missing:
        what = f"'{field.name}' has no {' and no '.join(map(repr, missing))}"
        faults.add(field.value.mark, what, LIST_REMEDY)
    start, end = _end("from", known, step, faults), _end("to", known, step, faults)
    log = _is_log(known, faults)
    if start is None or end is None or missing:
        return None
    end_value = _comparable(start, end)
    if end_value is None:
        faults.add(known["to"].value.mark, f"{quoted(end.text)} and {quoted(start.text)} are not in one unit",
                   "write both ends in the same unit")
        return None
    first = _number(start)
    if first == end_value:
        faults.add(known["to"].value.mark, "'from' and 'to' are the same", "write a list with one value")
        return None
    if log and (first <= 0 or end_value <= 0):
        low = "from" if first <= 0 else "to"
        faults.add(known[low].value.mark, f"'{low}' is not above 0, which spacing: log needs",
                   "write spacing: linear, or a value above 0")
        return None
    return _Ends(first, end_value, _unit(start) or _unit(end), log)


def spaced(first: float, last: float, steps: int, log: bool) -> tuple[float, ...]:
    """`steps` values from first to last, both included, evenly apart (or in ratio); ends are exact."""
    shares = [index / (steps - 1) for index in range(1, steps - 1)]
    if log:
        inner = [first * (last / first) ** share for share in shares]
    else:
        inner = [first + (last - first) * share for share in shares]
    return (first, *(float(f"{value:.10g}") for value in inner), last)


def _end(key: str, known: Mapping[str, Field], step: bool, faults: Faults) -> Number | Travel | None:
    value = read_value(known[key].value, key, faults, step) if key in known else None
    if value is None or isinstance(value, Number | Travel):
        return value
    faults.add(known[key].value.mark, f"'{key}' is {quoted(value.text)}, not a number", LIST_REMEDY)
    return None


def _steps(known: Mapping[str, Field], faults: Faults) -> int | None:
    text = single(known["steps"].value, "steps", faults) if "steps" in known else None
    if text is None:
        return None
    if not (text.isascii() and text.isdigit() and len(text) < 9 and 2 <= int(text) <= MOST_STEPS):
        faults.add(known["steps"].value.mark, f"steps is {quoted(text)}",
                   f"write how many values, 2 to {MOST_STEPS}, both ends counted")
        return None
    return int(text)


def _is_log(known: Mapping[str, Field], faults: Faults) -> bool:
    text = single(known["spacing"].value, "spacing", faults) if "spacing" in known else None
    if text is not None and text.casefold() not in ("linear", "log"):
        faults.add(known["spacing"].value.mark, f"spacing is {quoted(text)}", "write linear or log")
    return text is not None and text.casefold() == "log"


def _number(value: Number | Travel) -> float:
    return value.value if isinstance(value, Number) else value.fraction * 100


def _unit(value: Number | Travel) -> str:
    return value.unit if isinstance(value, Number) else "% travel"


def _comparable(start: Number | Travel, end: Number | Travel) -> float | None:
    """The end in the start's unit."""
    return same_unit(Amount(_number(end), _unit(end)), _unit(start) or _unit(end))


def _at(value: float, unit: str) -> Number | Travel:
    text = str(Amount(value, unit))
    return Travel(value / 100, text) if unit == "% travel" else Number(value, unit, text)
