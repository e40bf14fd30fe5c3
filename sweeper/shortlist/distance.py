"""How far apart two variants are in what was varied."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from sweeper.units import MULTIPLES, parse_amount

#: Times and frequencies are turned by ratios: 5 ms to 10 ms is as far as 50 ms to 100 ms. Common practice, no source.
BY_RATIO = frozenset({"ms", "Hz"})
SEQUENCE = "sequence"
DIALLED = "dialled "


@dataclass(frozen=True)
class Setting:
    """A setting as it was varied. text: as written. positions: of the plugin's controls behind it, 0.0 to 1.0, by name
    and side; none where it is no plugin's: a trim, a blend, a ride, a switch of the chain's.
    """

    text: str
    positions: Mapping[tuple[str, str], float] = field(default_factory=dict)


Settings = Mapping[str, Setting]


@dataclass(frozen=True)
class Spans:
    """How far each setting goes in a run: (its name, its unit) -> the least and the largest number."""

    ends: Mapping[tuple[str, str], tuple[float, float]]


def spans_of(varied: Iterable[Mapping[str, str]]) -> Spans:
    """The spans of all variants of a run, each with what was varied in it, as written."""
    ends: dict[tuple[str, str], tuple[float, float]] = {}
    for settings in varied:
        for name, text in settings.items():
            number = _number(name, text)
            if number is not None:
                value, unit = number
                low, high = ends.get((name, unit), (value, value))
                ends[name, unit] = min(low, value), max(high, value)
    return Spans(ends)


def distance(one: Settings, other: Settings, spans: Spans) -> float:
    """How far apart two variants are: in the setting that differs most, as a share of its control's way.

    0.0 = the same settings, 1.0 = from one end to the other. Of a setting that is no control of a plugin's as a share
    of its span in the run. Infinite where a word differs (another plugin, on or off, a sequence), where a setting is
    heard in one of them only, or where nothing is known of either.
    """
    if not one or one.keys() != other.keys():
        return math.inf
    return max(_apart(name, one[name], other[name], spans) for name in one)


def _apart(name: str, one: Setting, other: Setting, spans: Spans) -> float:
    if one.text == other.text:
        return 0.0
    ours, theirs = _number(name, one.text), _number(name, other.text)
    if ours and theirs and one.positions and one.positions.keys() == other.positions.keys():
        return max(abs(one.positions[which] - other.positions[which]) for which in one.positions)
    if ours is None or theirs is None or ours[1] != theirs[1] or (name, ours[1]) not in spans.ends:
        return math.inf
    low, high = spans.ends[name, ours[1]]
    if ours[0] == theirs[0]:
        return 0.0
    if ours[1] in BY_RATIO and low > 0:
        return abs(math.log(ours[0] / theirs[0])) / math.log(high / low)
    return abs(ours[0] - theirs[0]) / (high - low)


def _number(name: str, text: str) -> tuple[float, str] | None:
    """A value as a number in its smallest unit; None for a word. A stage's alternatives and a sequence are words."""
    amount = None if name == SEQUENCE or "." not in name else parse_amount(text.removeprefix(DIALLED))
    if amount is None:
        return None
    unit, factor = MULTIPLES.get(amount.unit, (amount.unit, 1.0))
    return amount.value * factor, unit
