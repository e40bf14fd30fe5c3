"""A control of no plugin, for tests of what is done with controls."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field


@dataclass
class FakeControl:
    """show: the text at a position. sticks: what a put position becomes."""

    name: str
    show: Callable[[float], str]
    unit: str = ""
    steps: int = 0
    index: int = 0
    settable: bool = True
    automatable: bool = True
    sticks: Callable[[float], float] = lambda raw: raw
    at: float = 0.5
    puts: list[float] = field(default_factory=list)

    def raw(self) -> float:
        return self.at

    def put(self, raw: float) -> None:
        self.puts.append(raw)
        self.at = self.sticks(raw)

    def text_at(self, raw: float) -> str:
        return self.show(raw)


def linear(low: float, high: float, decimals: int = 6) -> Callable[[float], str]:
    """The text of a control that runs evenly from low to high."""
    return lambda raw: f"{low + raw * (high - low):.{decimals}f}"


def listed(*texts: str) -> Callable[[float], str]:
    """The text of a stepped control."""
    return lambda raw: texts[min(len(texts) - 1, round(raw * (len(texts) - 1)))]
