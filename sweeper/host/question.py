"""What the parent asks of a plugin before anything is rendered, and the answer; plain values."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from sweeper.audio.format import AudioFormat
from sweeper.chain.model import Channels, SettingValue
from sweeper.host.described import Plugin


@dataclass(frozen=True)
class Asked:
    """One setting to look up. side: "" = all. value: None asks whether it can be solved: is it there, and a number?"""

    name: str
    side: str
    value: SettingValue | None


@dataclass(frozen=True)
class Question:
    """Load this stage's plugin as the chain file says, on audio of this format, and look up its settings."""

    stage: str
    path: str
    state: Path | None
    channels: Channels
    format: AudioFormat
    asked: tuple[Asked, ...]
    block_frames: int
    patience_s: float


@dataclass(frozen=True)
class Fault:
    """What is wrong, and the remedy. number: which of `asked`; -1 = the stage as a whole."""

    number: int
    what: str
    remedy: str


@dataclass(frozen=True)
class Answer:
    """plugin: None when it would not load on that format; then there is a fault."""

    plugin: Plugin | None
    faults: tuple[Fault, ...]
