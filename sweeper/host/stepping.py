"""From a step away from where a control is dialled to its position."""

from __future__ import annotations

import math

from sweeper.chain.model import FromDialled, Number, SettingValue, Travel
from sweeper.errors import SettingError
from sweeper.host.control import Control
from sweeper.host.resolve import FLOAT_STEPS, resolve, snapped, tidy
from sweeper.host.shown import number_at, shown_unit
from sweeper.units import Amount, same_unit

#: How far past its ends a control may be stepped and still be taken to stand at the end.
ROUNDING = 1e-6


def stepped(control: Control, value: FromDialled, dialled: SettingValue | None) -> float:
    """The position, 0.0 to 1.0, that lies one step away from where the control is dialled.

    dialled: what the chain file sets it to; None = it stands where its state left it.
    Raises SettingError when the step leads beyond the control's range, or is in another unit.
    """
    base = control.raw() if dialled is None else resolve(control, dialled)
    if isinstance(value.offset, Travel):
        return _travelled(control, base, value.offset)
    return base if value.offset.value == 0 else _counted(control, base, value, dialled)


def _travelled(control: Control, base: float, offset: Travel) -> float:
    raw = base + offset.fraction
    if not -ROUNDING <= raw <= 1 + ROUNDING:
        share = f"{100 * abs(offset.fraction):g} %"
        raise SettingError(
            f"'{control.name}' is dialled at {_shown(control, base)}, {100 * base:.4g} % of its way; "
            f"{share} {'more' if offset.fraction > 0 else 'less'} is beyond",
            f"it can go {100 * base:.4g} % down and {100 * (1 - base):.4g} % up from there",
        )
    return snapped(control, min(1.0, max(0.0, raw)))


def _counted(control: Control, base: float, value: FromDialled, dialled: SettingValue | None) -> float:
    assert isinstance(value.offset, Number)
    offset = value.offset
    number = _dialled_number(control, base, offset.unit, dialled)
    if number is None:  # refused in the words of a plain setting
        return resolve(control, offset)
    if not math.isfinite(number):
        raise SettingError(f"'{control.name}' is dialled at {_shown(control, base)}, which is no number to step from",
                           "write the step as a share of its way, e.g. 5 % travel")
    wanted = float(f"{number + offset.value:.10g}")
    unit = offset.unit or (dialled.unit if isinstance(dialled, Number) else "")
    try:
        return resolve(control, Number(wanted, unit, str(Amount(wanted, unit or shown_unit(control)))))
    except SettingError as exc:
        raise SettingError(
            f"'{control.name}' is dialled at {_shown(control, base)}; {offset.text.lstrip('+-')} "
            f"{'more' if offset.value > 0 else 'less'} cannot be",
            f"{exc.remedy}; write {offset.text} travel for a part of its way" if unit == "%" else exc.remedy
        ) from exc  # fmt: skip


def _dialled_number(control: Control, base: float, unit: str, dialled: SettingValue | None) -> float | None:
    """The number dialled, in the step's unit: as the chain file has it, else as shown. None where it has no such."""
    if isinstance(dialled, Number) and (dialled.unit or not unit):
        return same_unit(Amount(dialled.value, dialled.unit), unit or dialled.unit)
    shown = shown_unit(control)
    return same_unit(Amount(_without_noise(control, number_at(control, base)), shown), unit or shown)


def _without_noise(control: Control, number: float) -> float:
    """-20 for a plugin that shows -19.999998, because its positions are 32-bit floats."""
    noise = FLOAT_STEPS * abs(number_at(control, 1.0) - number_at(control, 0.0))
    rounded = float(f"{number:.6g}")
    return rounded if abs(rounded - number) <= noise else number


def _shown(control: Control, raw: float) -> str:
    text = tidy(control.text_at(raw))
    unit = control.unit.strip()
    return f"{text} {unit}".strip() if unit and not text.endswith(unit) else text
