"""What a worker needs to know to host one stage of one variant; plain values."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from sweeper.chain.model import Channels, SettingValue


@dataclass(frozen=True)
class Dialled:
    """One setting to make. side: the instance it is for, "" for every one."""

    name: str
    side: str
    value: SettingValue


@dataclass(frozen=True)
class StageSetup:
    """One stage of one variant. path: the plugin's file or "builtin:NAME". Trims in dB."""

    name: str
    path: str
    state: Path | None
    channels: Channels
    settings: tuple[Dialled, ...]
    input_trim_db: float = 0.0
    output_trim_db: float = 0.0
    bypass: bool = False

    def with_setting(self, setting: Dialled) -> StageSetup:
        """The setup with one setting replaced or added; it comes last."""
        kept = tuple(s for s in self.settings if not _overrides(setting, s))
        return replace(self, settings=(*kept, setting))


def _overrides(new: Dialled, old: Dialled) -> bool:
    same = "".join(new.name.lower().split()) == "".join(old.name.lower().split())
    return same and (new.side == old.side or new.side == "")
