"""From what the engineer wrote ("-12 dB", "Warm", "on", "37 % travel") to a control's position.

A plugin's own text is the only truth about its units, so numbers are looked up by bisecting the text that
the plugin shows, never by a formula.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from sweeper.chain.model import Choice, Number, SettingValue, Switch, Travel
from sweeper.errors import SettingError
from sweeper.host.control import Control, choices, step_positions
from sweeper.units import parse_amount, same_unit

_ON = ("on", "yes", "true", "enabled", "enable", "active", "1")
_OFF = ("off", "no", "false", "disabled", "disable", "inactive", "0")
_SAMPLES = 65
_BISECTIONS = 40


def resolve(control: Control, value: SettingValue) -> float:
    """The position, 0.0 to 1.0, at which the plugin shows `value`.

    Raises SettingError when the value is out of the control's range, in another unit, or no choice of it.
    """
    if isinstance(value, Travel):
        return snapped(control, value.fraction)
    by_text = _by_text(control, value.text)
    if by_text is not None:
        return by_text
    if isinstance(value, Switch):
        return _switched(control, value)
    if isinstance(value, Number):
        return _at_number(control, value)
    return _chosen(control, value)


def snapped(control: Control, raw: float) -> float:
    """The nearest position that a stepped control has; `raw` itself for a continuous one."""
    if control.steps < 2:
        return raw
    return round(raw * (control.steps - 1)) / (control.steps - 1)


def number_at(control: Control, raw: float) -> float:
    """The number that the plugin shows at `raw`, in the control's unit; nan where it shows no number."""
    return _number_in(control.text_at(raw), control.unit)


def shown_unit(control: Control) -> str:
    """The control's unit: its label, or what stands behind its numbers; "" where there is neither."""
    if control.unit:
        return control.unit
    amount = parse_amount(control.text_at(0.5))
    return amount.unit if amount is not None and len(amount.unit) <= 6 else ""


def span(control: Control) -> tuple[float, float]:
    """The lowest and the highest number the control can show; nan twice when it shows none."""
    positions = step_positions(control) if 2 <= control.steps <= _SAMPLES else _even_positions()
    numbers = [n for n in (number_at(control, raw) for raw in positions) if math.isfinite(n)]
    return (min(numbers), max(numbers)) if numbers else (math.nan, math.nan)


def _even_positions() -> tuple[float, ...]:
    return tuple(k / (_SAMPLES - 1) for k in range(_SAMPLES))


def _number_in(text: str, unit: str) -> float:
    folded = text.strip().lower().replace("∞", "inf")
    if folded.startswith(("-inf", "- inf")):
        return -math.inf
    amount = parse_amount(text)
    if amount is None:
        return math.nan
    value = same_unit(amount, unit) if unit else amount.value
    return amount.value if value is None else value


def _by_text(control: Control, text: str) -> float | None:
    wanted = _folded(text)
    for raw, shown in zip(step_positions(control), choices(control), strict=False):
        if _folded(shown) == wanted:
            return raw
    return None


def _folded(text: str) -> str:
    return "".join(text.lower().split())


def _switched(control: Control, value: Switch) -> float:
    texts = [_folded(shown) for shown in choices(control)]
    if len(texts) == 2:
        for raw, shown in zip((0.0, 1.0), texts, strict=True):
            if shown in (_ON if value.on else _OFF):
                return raw
        return 1.0 if value.on else 0.0
    raise SettingError(f"'{control.name}' is not a switch, it cannot be '{value.text}'", _range_in_words(control))


def _chosen(control: Control, value: Choice) -> float:
    for raw in (k / 1000 for k in range(1001)) if control.steps < 2 else step_positions(control):
        if _folded(control.text_at(raw)) == _folded(value.text):
            return raw
    raise SettingError(f"'{control.name}' cannot be '{value.text}'", _range_in_words(control))


def _at_number(control: Control, value: Number) -> float:
    wanted = _in_shown_unit(control, value)
    stepped = step_positions(control)
    positions = stepped if 0 < len(stepped) <= 1000 else _even_positions()
    numbers = [number_at(control, raw) for raw in positions]
    if 0 < len(stepped) <= 1000:
        return _nearest_step(control, value, wanted, positions, numbers)
    for k in range(len(positions) - 1):
        low, high = numbers[k], numbers[k + 1]
        if not (math.isnan(low) or math.isnan(high)) and min(low, high) <= wanted <= max(low, high):
            last = k + 1
            while last + 1 < len(positions) and numbers[last] == wanted:
                last += 1
            return _bisected(lambda raw: number_at(control, raw), wanted, positions[k], positions[last])
    raise _out_of_range(control, value)


def _in_shown_unit(control: Control, value: Number) -> float:
    unit = shown_unit(control)
    wanted = value.value if not unit else same_unit_loosely(value, unit)
    if wanted is None:
        raise SettingError(f"'{control.name}' is in {unit}, not in {value.unit}: '{value.text}'",
                           _range_in_words(control))  # fmt: skip
    return wanted


def same_unit_loosely(value: Number, unit: str) -> float | None:
    """The number in a plugin's unit; a unit that is no word (" ", ":1", "x") takes any number."""
    amount = parse_amount(f"{value.value!r} {value.unit}")
    assert amount is not None
    known = parse_amount(f"1 {unit}")
    shown = known.unit if known is not None else unit
    if not any(c.isalpha() or c == "%" for c in shown):
        return value.value
    return same_unit(amount, shown)


def _nearest_step(control: Control, value: Number, wanted: float, positions: Sequence[float],
                  numbers: Sequence[float]) -> float:  # fmt: skip
    finite = [(abs(n - wanted), raw) for n, raw in zip(numbers, positions, strict=True) if math.isfinite(n)]
    if not finite or not min(n for n in numbers if math.isfinite(n)) <= wanted <= max(
        n for n in numbers if math.isfinite(n)
    ):
        raise _out_of_range(control, value)
    return min(finite)[1]


def _bisected(shown: Callable[[float], float], wanted: float, low: float, high: float) -> float:
    """The middle of the stretch where `wanted` is shown, or the nearer side of where it is passed."""
    rising = shown(high) >= shown(low)
    first = _edge(lambda raw: (shown(raw) >= wanted) if rising else (shown(raw) <= wanted), low, high)
    last = _edge(lambda raw: (shown(raw) > wanted) if rising else (shown(raw) < wanted), low, high)
    if shown(first) == wanted:
        return (first + last) / 2 if shown((first + last) / 2) == wanted else first
    before = max(low, first - 2.0**-_BISECTIONS)
    return min((before, first), key=lambda raw: abs(shown(raw) - wanted))


def _edge(passed: Callable[[float], bool], low: float, high: float) -> float:
    """The lowest position, to 2^-40, from which `passed` holds; `high` where it never does."""
    if passed(low):
        return low
    for _ in range(_BISECTIONS):
        middle = (low + high) / 2
        low, high = (low, middle) if passed(middle) else (middle, high)
    return high


def _out_of_range(control: Control, value: Number) -> SettingError:
    return SettingError(f"'{control.name}' cannot be {value.text}", _range_in_words(control))


def _range_in_words(control: Control) -> str:
    offered = choices(control)
    if offered and len(offered) <= 12:
        return "it can be " + ", ".join(dict.fromkeys(offered))
    unit = control.unit.strip()
    ends = [_tidy(control.text_at(raw)) for raw in (0.0, 1.0)]
    unit = "" if any(unit and end.endswith(unit) for end in ends) else unit
    return f"it goes from {ends[0]} to {ends[1]} {unit}".rstrip()


def _tidy(text: str) -> str:
    """The plugin's text without the zeros that pad a number: "-30.000000" reads -30."""
    text = text.strip()
    try:
        return f"{float(text):g}"
    except ValueError:
        return text
