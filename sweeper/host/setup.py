"""What a worker needs to know to host one stage of one variant; plain values."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from sweeper.chain.model import Channels, SettingValue
from sweeper.units import folded


@dataclass(frozen=True)
class Dialled:
    """One setting to make. side: the instance it is for, "" for every one.

    raw: the position, 0.0 to 1.0, that the value was found to be when the plugin was examined; None = not looked up.
    """

    name: str
    side: str
    value: SettingValue
    raw: float | None = None


@dataclass(frozen=True)
class StageSetup:
    """One stage of one variant. path: the plugin's file or "builtin:NAME". Trims in dB.

    label: what the table calls it among its alternatives, "" where it has none. output: it stands after the buses.
    """

    name: str
    path: str
    state: Path | None
    channels: Channels
    settings: tuple[Dialled, ...]
    input_trim_db: float = 0.0
    output_trim_db: float = 0.0
    bypass: bool = False
    label: str = ""
    output: bool = False

    def with_setting(self, setting: Dialled) -> StageSetup:
        """The setup with one setting replaced or added; it comes last.

        A setting of one side leaves what was set for every side standing on the others.
        """
        kept: list[Dialled] = []
        for old in self.settings:
            if folded(old.name) != folded(setting.name):
                kept.append(old)
            elif setting.side and not old.side:
                kept += [replace(old, side=side) for side in self.channels.sides if side != setting.side]
            elif setting.side and setting.side != old.side:
                kept.append(old)
        return replace(self, settings=(*kept, setting))


def plugin_word(path: str) -> str:
    """A plugin's file as messages name it: without folder and ending."""
    return path if path.startswith("builtin:") else Path(path).stem
