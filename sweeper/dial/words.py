"""A control's place as a chain file has it."""

from __future__ import annotations

import numpy as np

from sweeper.chain.values import setting_value
from sweeper.errors import SettingError
from sweeper.host.control import Control
from sweeper.host.resolve import resolve, tidy
from sweeper.host.settings import STUCK


def shown(control: Control, raw: float) -> str:
    """What the plugin shows at a position, with its unit."""
    text, unit = tidy(control.text_at(raw)), control.unit.strip()
    return text if not unit or text.endswith(unit) else f"{text} {unit}"


def written(control: Control, raw: float) -> str:
    """The text that leads back to the position: what the plugin shows, else the exact share of travel."""
    unit = control.unit.strip()
    for text in (shown(control, raw), f"{control.text_at(raw).strip()} {unit}".strip(), control.text_at(raw).strip()):
        if text and _leads_to(control, text, raw):
            return text
    return f"{_per_cent(raw)} % travel"


def _leads_to(control: Control, text: str, raw: float) -> bool:
    try:
        return abs(resolve(control, setting_value(text)) - raw) <= STUCK
    except SettingError:
        return False


def _per_cent(raw: float) -> str:
    """A position in per cent, with as many digits as a 32-bit float takes to come back."""
    for digits in range(3, 13):
        text = f"{100 * raw:.{digits}f}".rstrip("0").rstrip(".")
        if np.float32(float(text) / 100) == np.float32(raw):
            return text
    return repr(100 * raw)
