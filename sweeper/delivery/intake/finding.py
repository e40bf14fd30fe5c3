"""What was found in a mix, and what to do about it."""

from __future__ import annotations

import enum
from collections.abc import Mapping
from dataclasses import dataclass, field

from sweeper.units import clock


class Verdict(enum.Enum):
    """Whether to work on it. OK; LOOK: hear it, ask perhaps; STOP: not as it is."""

    OK = "ok"
    LOOK = "look"
    STOP = "stop"

    @property
    def weight(self) -> int:
        """How bad, from 0."""
        return list(Verdict).index(self)


@dataclass(frozen=True)
class Finding:
    """One thing looked at.

    key: what; title: in words. what: what was found. why: why it matters; ask: what to ask the mixer, "for a bounce"
    or "whether it is meant so"; both "" where all is well. figures: name with unit -> number. places_s: where to.
    """

    key: str
    title: str
    verdict: Verdict
    what: str
    why: str = ""
    ask: str = ""
    figures: Mapping[str, float | int | str | None] = field(default_factory=dict)
    places_s: tuple[float, ...] = ()

    def as_data(self) -> dict[str, object]:
        """For JSON."""
        return {
            "key": self.key,
            "title": self.title,
            "verdict": self.verdict.value,
            "what": self.what,
            "why": self.why or None,
            "ask": self.ask or None,
            "figures": dict(self.figures),
            "places_s": [round(place, 3) for place in self.places_s],
        }


def worst(verdicts: list[Verdict]) -> Verdict:
    """The worst of several; OK of none."""
    return max(verdicts, key=lambda verdict: verdict.weight, default=Verdict.OK)


def at(places_s: tuple[float, ...], most: int = 3) -> str:
    """at 0:12.3, 0:40.0 and 12 more places"""
    apart = tuple(dict.fromkeys(map(clock, places_s)))
    if not apart:
        return ""
    return f"at {', '.join(apart[:most])}" + (f" and {len(apart) - most} more places" if len(apart) > most else "")
