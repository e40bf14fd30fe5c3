"""What is in doubt: a list of values for a setting, or a range expanded to one."""

from __future__ import annotations

from collections.abc import Mapping

from sweeper.chain.document import Node
from sweeper.chain.faults import KEEP_ONE, Faults
from sweeper.chain.keys import NOT_BUILT
from sweeper.chain.model import TRIMS, Number, SettingValue, Switch, Travel, VaryAxis
from sweeper.chain.nearest import quoted
from sweeper.chain.refs import BYPASS, control, read_ref, same_control, stage_of
from sweeper.chain.shapes import Field, entries, fields, listed, single
from sweeper.chain.stages import StageNames
from sweeper.chain.values import read_value, same_value
from sweeper.units import Amount, same_unit

MOST_STEPS = 1000
LIST_REMEDY = "write a list, e.g. [1 dB, 2 dB], or {from: 1 dB, to: 4 dB, steps: 4}"


def read_vary(node: Node, names: StageNames, faults: Faults) -> tuple[VaryAxis, ...]:
    """Every axis in the file's order; one control may be varied once."""
    found: list[VaryAxis] = []
    for field in entries(node, "vary", faults):
        if field.name in NOT_BUILT["vary"]:
            faults.not_built(field.mark, quoted(field.name), NOT_BUILT["vary"][field.name])
            continue
        ref = read_ref(field.name, field.mark, names, faults)
        values = _values(field, faults)
        if ref is None:
            continue
        axis = VaryAxis(ref, values, field.mark)
        _check_kind(axis, field, names, faults)
        for other in found:
            if same_control(ref, other.ref, names):
                faults.add(field.mark, f"{quoted(str(ref))} turns the same control as "
                           f"{quoted(str(other.ref))} on line {other.mark.line}", KEEP_ONE)
        found.append(axis)
    return tuple(found)


def _check_kind(axis: VaryAxis, field: Field, names: StageNames, faults: Faults) -> None:
    """Trims take dB, bypass takes on and off; a bypassed stage is not heard."""
    stage = stage_of(axis.ref, names)
    turned = control(axis.ref, names)
    if turned == BYPASS and not all(isinstance(value, Switch) for value in axis.values):
        faults.add(field.value.mark, f"'{axis.ref}' takes on and off only", "write [on, off]")
    if turned in TRIMS and not all(isinstance(v, Number) and v.unit in ("dB", "") for v in axis.values):
        faults.add(field.value.mark, f"'{axis.ref}' takes values in dB only", "write e.g. [0 dB, 3 dB]")
    if stage.bypass and turned != BYPASS:
        faults.add(field.mark, f"'{stage.name}' is bypassed, so '{axis.ref}' changes nothing",
                   f"take this out, or 'bypass' out of '{stage.name}'")


def _values(field: Field, faults: Faults) -> tuple[SettingValue, ...]:
    if field.value.pairs is not None:
        return _range(field, faults)
    if field.value.items is None or not field.value.items:
        faults.add(field.value.mark, f"'{field.name}' needs the values to compare", LIST_REMEDY)
        return ()
    found: list[SettingValue] = []
    for item in listed(field.value, field.name, faults):
        value = read_value(item, field.name, faults)
        if value is None:
            continue
        if any(same_value(value, other) for other in found):
            faults.add(item.mark, f"{quoted(value.text)} stands twice in '{field.name}'", KEEP_ONE)
        found.append(value)
    return tuple(found)


def _range(field: Field, faults: Faults) -> tuple[SettingValue, ...]:
    """{from, to, steps, spacing} as a list of values."""
    known = fields(field.value, "range", field.name, faults)
    if "from dialled" in known:
        return ()
    missing = [key for key in ("from", "to", "steps") if key not in known]
    if missing:
        what = f"'{field.name}' has no {' and no '.join(map(repr, missing))}"
        faults.add(field.value.mark, what, LIST_REMEDY)
    start, end = _end("from", known, faults), _end("to", known, faults)
    steps, log = _steps(known, faults), _is_log(known, faults)
    if start is None or end is None or steps is None or missing:
        return ()
    end_value = _comparable(start, end)
    if end_value is None:
        faults.add(known["to"].value.mark, f"{quoted(end.text)} and {quoted(start.text)} are not in one unit",
                   "write both ends in the same unit")
        return ()
    first = _number(start)
    if first == end_value:
        faults.add(known["to"].value.mark, "'from' and 'to' are the same", "write a list with one value")
        return ()
    if log and (first <= 0 or end_value <= 0):
        low = "from" if first <= 0 else "to"
        faults.add(known[low].value.mark, f"'{low}' is not above 0, which spacing: log needs",
                   "write spacing: linear, or a value above 0")
        return ()
    unit = _unit(start) or _unit(end)
    return tuple(_at(value, unit) for value in spaced(first, end_value, steps, log))


def spaced(first: float, last: float, steps: int, log: bool) -> tuple[float, ...]:
    """`steps` values from first to last, both included, evenly apart (or in ratio); ends are exact."""
    shares = [index / (steps - 1) for index in range(1, steps - 1)]
    if log:
        inner = [first * (last / first) ** share for share in shares]
    else:
        inner = [first + (last - first) * share for share in shares]
    return (first, *(float(f"{value:.10g}") for value in inner), last)


def _end(key: str, known: Mapping[str, Field], faults: Faults) -> Number | Travel | None:
    value = read_value(known[key].value, key, faults) if key in known else None
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


def _at(value: float, unit: str) -> SettingValue:
    text = str(Amount(value, unit))
    return Travel(value / 100, text) if unit == "% travel" else Number(value, unit, text)
