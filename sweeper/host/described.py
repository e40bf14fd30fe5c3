"""What is known of a plugin and its settings, as values that travel between processes."""

from __future__ import annotations

from dataclasses import dataclass

#: Positions of a control at which its text is shown, as shares of its way.
TENTHS = tuple(tenth / 10 for tenth in range(11))


@dataclass(frozen=True)
class Setting:
    """One control of a plugin.

    name: as the plugin shows it. index: its place in the plugin's own list. unit: "" where it shows none.
    raw: its position, 0.0 to 1.0; text: what the plugin shows there. texts: what it shows at every tenth
    of its way. steps: how many positions it has; 0 = continuous. choices: the text of every step, for
    stepped controls of at most 64 steps.
    """

    name: str
    index: int
    unit: str
    raw: float
    text: str
    texts: tuple[str, ...]
    steps: int
    choices: tuple[str, ...]


@dataclass(frozen=True)
class Plugin:
    """A plugin that has been loaded once.

    path: its file, or "builtin:NAME". channels: what it takes: 1 or 2. latency_frames: as it reports
    with the settings it woke up with. hidden: names that are the host's own or only show a level.
    note: what an engineer should know before using it; "" where there is nothing.
    """

    name: str
    path: str
    maker: str
    version: str
    identifier: str
    category: str
    channels: int
    latency_frames: int
    settings: tuple[Setting, ...]
    hidden: tuple[str, ...]
    note: str
