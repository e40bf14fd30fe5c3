"""From what the engineer wrote ("-12 dB", "Warm", "on", "37 % travel") to a control's position.

A plugin's own text is the only truth about its units, so numbers are looked up by bisecting the text that
the plugin shows, never by a formula.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from sweeper.chain.model import Choice, FromDialled, Number, SettingValue, Switch, Travel
from sweeper.errors import SettingError
from sweeper.host.control import Control, choices, step_positions
from sweeper.host.shown import display_step, number_at, positions_of, shown_unit
from sweeper.units import Amount, folded, same_unit

_ON = ("on", "yes", "true", "enabled", "enable", "active", "1")
_OFF = ("off", "no", "false", "disabled", "disable", "inactive", "0")
_BISECTIONS = 40
#: How far off a stored position may show, as a share of the control's range: some steps of a 32-bit float.
FLOAT_STEPS = 1e-6


def resolve(control: Control, value: SettingValue) -> float:
    """The position, 0.0 to 1.0, at which the plugin shows `value`.

    Raises SettingError when the value is out of the control's range, in another unit, or no choice of it.
    """
    if isinstance(value, FromDialled):
        raise ValueError("a step from where a setting is dialled is resolved when its plugin is examined")
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


def _by_text(control: Control, text: str) -> float | None:
    wanted = folded(text)
    for raw, shown in zip(step_positions(control), choices(control), strict=False):
        if folded(shown) == wanted:
            return raw
    return None


def _switched(control: Control, value: Switch) -> float:
    texts = [folded(shown) for shown in choices(control)]
    if len(texts) == 2:
        for raw, shown in zip((0.0, 1.0), texts, strict=True):
            if shown in (_ON if value.on else _OFF):
                return raw
        return 1.0 if value.on else 0.0
    raise SettingError(f"'{control.name}' is not a switch, it cannot be '{value.text}'", _range_in_words(control))


def _chosen(control: Control, value: Choice) -> float:
    for raw in (k / 1000 for k in range(1001)) if control.steps < 2 else step_positions(control):
        if folded(control.text_at(raw)) == folded(value.text):
            return raw
    raise SettingError(f"'{control.name}' cannot be '{value.text}'", _range_in_words(control))


def _at_number(control: Control, value: Number) -> float:
    wanted = _in_shown_unit(control, value)
    positions = positions_of(control)
    numbers = [number_at(control, raw) for raw in positions]
    if control.steps >= 2 and len(positions) == control.steps:
        return _on_step(control, value, wanted, positions, numbers)
    wanted = _forgiven_at_the_ends(control, wanted, numbers)
    for k in range(len(positions) - 1):
        low, high = numbers[k], numbers[k + 1]
        if math.isfinite(low) and math.isfinite(high) and min(low, high) <= wanted <= max(low, high):
            last = k + 1
            while last + 1 < len(positions) and numbers[last] == wanted:
                last += 1
            return _bisected(control, value, wanted, positions[k], positions[last])
    raise _out_of_range(control, value)


def _forgiven_at_the_ends(control: Control, wanted: float, numbers: Sequence[float]) -> float:
    """The end itself for a number that lies past it by no more than its text can tell: 20 kHz at "19999.998"."""
    finite = [(n, raw) for n, raw in zip(numbers, positions_of(control), strict=True) if math.isfinite(n)]
    for end, raw in (min(finite), max(finite)) if finite else ():
        near = max(display_step(control.text_at(raw), control.unit), 1e-6 * abs(end))
        if end != wanted and abs(wanted - end) <= near and not min(finite)[0] <= wanted <= max(finite)[0]:
            return end
    return wanted


def _in_shown_unit(control: Control, value: Number) -> float:
    unit = shown_unit(control)
    wanted = _in_unit(value, unit)
    if wanted is None:
        there = f"is in {unit}" if unit.strip() else "shows no unit"
        raise SettingError(f"'{control.name}' {there}, not in {value.unit}: '{value.text}'", _range_in_words(control))
    return wanted


def _in_unit(value: Number, unit: str) -> float | None:
    """The number in a plugin's unit; where it shows none, or a mere sign (":1", "x"), no word may stand behind it."""
    if any(c.isalpha() or c == "%" for c in unit) and unit.lower() != "x":
        return same_unit(Amount(value.value, value.unit), unit)
    return None if any(c.isalpha() or c == "%" for c in value.unit) and value.unit.lower() != "x" else value.value


def _on_step(control: Control, value: Number, wanted: float, positions: Sequence[float],
             numbers: Sequence[float]) -> float:  # fmt: skip
    """The step that shows the number; only the noise of long decimals is forgiven ("-3.000001").

    The nearest step for what is between two where the nearest is meant.
    """
    finite = [(abs(n - wanted), raw, n) for n, raw in zip(numbers, positions, strict=True) if math.isfinite(n)]
    if not finite:
        raise _out_of_range(control, value)
    away, raw, shown = min(finite)
    noise = display_step(control.text_at(raw), control.unit)
    there = [n for _, _, n in finite]
    is_between = value.near and min(there) <= wanted <= max(there)
    if is_between or away <= max(2 * noise if noise <= 1e-3 else 0.0, 1e-6 * abs(shown)):
        return raw
    raise _out_of_range(control, value)


def _bisected(control: Control, value: Number, wanted: float, low: float, high: float) -> float:
    """The middle of the stretch where `wanted` is shown, or the nearer side of where it is passed.

    Raises SettingError where the shown number jumps over it, unless the nearest is meant.
    """
    def shown(raw: float) -> float:
        return number_at(control, raw)

    rising = shown(high) >= shown(low)
    first = _edge(lambda raw: (shown(raw) >= wanted) if rising else (shown(raw) <= wanted), low, high)
    last = _edge(lambda raw: (shown(raw) > wanted) if rising else (shown(raw) < wanted), low, high)
    if shown(first) == wanted:
        return (first + last) / 2 if shown((first + last) / 2) == wanted else first
    before = max(low, first - 2.0**-_BISECTIONS)
    chosen = min((before, first), key=lambda raw: abs(shown(raw) - wanted))
    step = max(display_step(control.text_at(raw), control.unit) for raw in (before, first))
    stored = FLOAT_STEPS * abs(shown(1.0) - shown(0.0))  # positions are 32-bit floats: -1 dB may show as -0.999998
    jump = max(2 * step, stored if math.isfinite(stored) else 0.0, 1e-6 * abs(wanted))
    if not value.near and abs(shown(chosen) - wanted) > jump:
        neighbours = f"it can be {tidy(control.text_at(before))} or {tidy(control.text_at(first))} there"
        raise SettingError(f"'{control.name}' cannot be {value.text}", neighbours)
    return chosen


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
    ends = [tidy(control.text_at(raw)) for raw in (0.0, 1.0)]
    unit = "" if any(unit and end.endswith(unit) for end in ends) else unit
    return f"it goes from {ends[0]} to {ends[1]} {unit}".rstrip()


def tidy(text: str) -> str:
    """The plugin's text without the zeros that pad a number: "-30.000000" reads -30."""
    text = text.strip()
    try:
        return f"{float(text):g}"
    except ValueError:
        return text
