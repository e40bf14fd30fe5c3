"""What the worker behind a window is asked to do, and what it gives back; plain values."""

from __future__ import annotations

import enum
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from sweeper.host.setup import StageSetup


@dataclass(frozen=True)
class LoopOrder:
    """Render a stretch of the mix through the stages before the one that is dialled, into `target`.

    span_s: (start, end) in seconds of the mix; None = the loudest 20 s.
    """

    mix: Path
    stages: tuple[StageSetup, ...]
    span_s: tuple[float, float] | None
    target: Path
    block_frames: int
    patience_s: float


@dataclass(frozen=True)
class Loop:
    """The loop as rendered. start_s, end_s: where in the mix. notes: of the render."""

    file: Path
    start_s: float
    end_s: float
    notes: tuple[str, ...]


@dataclass(frozen=True)
class WindowOrder:
    """Open the window of a stage's plugin while a loop plays through it.

    folder: where the parent leaves its signs, and where the state is kept meanwhile. names: settings as the chain file
    calls them, to be looked up. of_one_side: those that it sets on the dialled side only.
    """

    setup: StageSetup
    loop: Path
    folder: Path
    names: tuple[str, ...]
    of_one_side: tuple[str, ...]
    block_frames: int
    patience_s: float


@dataclass(frozen=True)
class Moved:
    """A control that stands elsewhere since. name: the plugin's own. before, after: as it shows them.

    written: the new place as a chain file has it: the plugin's text where that leads back, else a share of travel.
    """

    name: str
    before: str
    after: str
    written: str


class Work(enum.Enum):
    """Whether something was dialled in a window."""

    NONE = "none"
    DONE = "done"
    UNKNOWN = "unknown"  # no setting moved, but the state is another one, as it is of this plugin without a hand too


@dataclass(frozen=True)
class Closed:
    """What stands once the window is closed.

    state: as .vstpreset data. work: whether it was dialled. moved: in the plugin's order. controls: each of the
    order's names -> the control's own name; those that the plugin has not are left out. notes: what an engineer should
    know.
    """

    state: bytes
    work: Work
    moved: tuple[Moved, ...]
    controls: Mapping[str, str]
    notes: tuple[str, ...]
