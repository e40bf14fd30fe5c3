"""What the parent asks of a plugin before anything is rendered, and the answer; plain values."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from sweeper.audio.format import AudioFormat
from sweeper.chain.model import Channels, Number, SettingValue
from sweeper.host.described import Plugin
from sweeper.host.setup import Dialled


@dataclass(frozen=True)
class Asked:
    """One setting to look up. side: "" = all. value: None asks whether it can be solved: is it there, and a number?

    with_steps: every position of a control with steps is wanted too.
    """

    name: str
    side: str
    value: SettingValue | None
    with_steps: bool = False


@dataclass(frozen=True)
class Question:
    """Load this stage's plugin as the chain file says, on audio of this format, and look up its settings.

    own: what the chain file sets the plugin to: where `from dialled` starts from. label: which alternative this is.
    """

    stage: str
    path: str
    state: Path | None
    channels: Channels
    format: AudioFormat
    asked: tuple[Asked, ...]
    block_frames: int
    patience_s: float
    own: tuple[Dialled, ...] = ()
    label: str = ""
    latency: Number | None = None
    instances: int = 0


@dataclass(frozen=True)
class Found:
    """What a value turned out to be. name: the control's own. raw: the position that shows it, 0.0 to 1.0.

    steps: where they were wanted, every position that the control has, with what it shows there; () = any.
    """

    name: str
    raw: float
    steps: tuple[tuple[float, str], ...] = ()


@dataclass(frozen=True)
class Fault:
    """What is wrong, and the remedy. number: which of `asked`; -1 = the stage as a whole.

    missing: the plugin has no control of that name.
    """

    number: int
    what: str
    remedy: str
    missing: bool = False


@dataclass(frozen=True)
class Answer:
    """plugin: None when it would not load on that format; then there is a fault.

    found: for each thing asked, in its order; None for faults, trims, and what was asked without a value.
    """

    plugin: Plugin | None
    faults: tuple[Fault, ...]
    found: tuple[Found | None, ...] = ()
