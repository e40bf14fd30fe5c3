"""What a setting of ours, and the amount of a ride, may be given: dB, a share in %, or a number at all."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from sweeper.chain.model import BLEND, TRIMS, FromDialled, Number, SettingValue, Travel


@dataclass(frozen=True)
class Kind:
    """takes: in words. examples: two values that are right. allows: whether a value is."""

    takes: str
    examples: tuple[str, str]
    allows: Callable[[SettingValue], bool]


def kinds_for(turned: tuple[str, ...], ride: bool, step: bool) -> tuple[Kind, ...]:
    """Every kind that a value must be of. turned: folded names of what it turns, one for each alternative.

    ride: it is a ride's amount; step: it says how far from where the setting stands.
    """
    found = [_LEVEL] if set(TRIMS) & set(turned) else []
    if BLEND in turned:
        found.append(_SHARE_STEP if step else _SHARE)
    return tuple(found) or ((_MOVING,) if ride else ())


def _number(value: SettingValue) -> SettingValue:
    return value.offset if isinstance(value, FromDialled) else value


def _is_level(value: SettingValue) -> bool:
    number = _number(value)
    return isinstance(number, Number) and number.unit in ("dB", "")


def _is_share(value: SettingValue) -> bool:
    if isinstance(value, FromDialled):
        return _is_share_step(value.offset)
    return isinstance(value, Number) and value.unit == "%" and 0 <= value.value <= 100


def _is_share_step(value: SettingValue) -> bool:
    return isinstance(value, Number) and value.unit == "%" and -100 <= value.value <= 100


def _is_moving(value: SettingValue) -> bool:
    return isinstance(value, Number | Travel)


_LEVEL = Kind("values in dB only", ("0 dB", "3 dB"), _is_level)
_SHARE = Kind("0 % to 100 % only", ("50 %", "100 %"), _is_share)
_SHARE_STEP = Kind("-100 % to 100 % only", ("-20 %", "20 %"), _is_share_step)
_MOVING = Kind("numbers only", ("5 % travel", "10 % travel"), _is_moving)
