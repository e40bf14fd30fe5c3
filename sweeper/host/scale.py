"""The numbers that a control shows as a scale, and whether it is one."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from sweeper.errors import SettingError
from sweeper.host.control import Control
from sweeper.host.resolve import snapped
from sweeper.host.settings import control_named
from sweeper.host.shown import number_at, positions_of, shown_unit


def scale(control: Control) -> tuple[str, np.ndarray, np.ndarray]:
    """(unit, positions, numbers) of a control, the numbers rising; "% travel" where it shows none that run one way."""
    raws = np.array(positions_of(control))
    numbers = np.array([number_at(control, raw) for raw in raws])
    finite = np.isfinite(numbers)
    raws, numbers = raws[finite], numbers[finite]
    rising, falling = np.all(np.diff(numbers) >= 0), np.all(np.diff(numbers) <= 0)
    if len(numbers) < 2 or numbers.min() == numbers.max() or not (rising or falling):
        ends = np.array(positions_of(control))
        return "% travel", ends, 100.0 * ends
    if falling:
        raws, numbers = raws[::-1], numbers[::-1]
    distinct = np.concatenate([[True], np.diff(numbers) > 0])
    return shown_unit(control), raws[distinct], numbers[distinct]


def is_number(control: Control) -> bool:
    """Whether a control can be solved: it is no switch and no list of words."""
    if control.steps == 0:
        return True
    return control.steps > 2 and all(math.isfinite(number_at(control, raw)) for raw in positions_of(control))


def solvable(controls: Sequence[Control], name: str) -> None:
    """Raise SettingError when the control of that name is missing, a switch, or a list of words."""
    control = control_named(controls, name)
    if not is_number(control):
        raise SettingError(f"'{control.name}' cannot be solved: it is no number", "name a setting that shows numbers")


def nearest_position(control: Control, number: float) -> tuple[float, bool]:
    """(the position that shows a number, as nearly as the control can, whether it lies beyond the control's ends).

    number: in `shown_unit`. Raises SettingError for a control whose numbers are no scale.
    """
    unit, raws, numbers = scale(control)
    if unit == "% travel":
        raise SettingError(f"'{control.name}' shows no numbers that run one way", "write e.g. 5 % travel")
    beyond = not numbers[0] <= number <= numbers[-1]
    return snapped(control, float(np.interp(number, numbers, raws))), beyond
