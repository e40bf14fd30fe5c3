"""What a worker needs to know to host one stage of one variant; plain values."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from sweeper.chain.model import Channels, Number, SettingValue
from sweeper.host.place import parted
from sweeper.units import folded


@dataclass(frozen=True)
class Dialled:
    """One setting to make. side: the instance it is for, "" for every one.

    raw: the position, 0.0 to 1.0, that the value was found to be when the plugin was examined; None = not looked up.
    ride: the ride of the setting whose amount this is, "" = the setting itself.
    """

    name: str
    side: str
    value: SettingValue
    raw: float | None = None
    ride: str = ""


@dataclass(frozen=True)
class RideSetup:
    """A setting of a stage that moves in some stretches of the music.

    setting: the plugin's own name for it, a trim or blend. amount: where it goes, or how far from where it stands
    (relative; then a plain number or a share of travel). spans_s: (start, end) of each stretch, in seconds of the mix,
    in order, none touching another. ramp_s: as in the chain file's `Ride`.
    """

    name: str
    setting: str
    side: str
    amount: SettingValue
    relative: bool
    spans_s: tuple[tuple[float, float], ...]
    ramp_s: float


@dataclass(frozen=True)
class StageSetup:
    """One stage of one variant. path: the plugin's file or "builtin:NAME". Trims in dB.

    label: what the table calls it among its alternatives, "" where it has none. output: it stands after the buses.
    path: "" for a fader and for an outside stage. The rest as in the chain's `Stage`.
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
    blend: float = 1.0
    latency: Number | None = None
    tail_s: float = 0.0
    instances: int = 0
    inverted: bool = False
    outside: str = ""
    bus: str = ""
    is_fader: bool = False
    rides: tuple[RideSetup, ...] = ()

    def with_setting(self, setting: Dialled) -> StageSetup:
        """The setup with one setting replaced or added; it comes last. The amount of a ride is put into the ride.

        A setting of one side leaves what was set for every side standing on the others.
        """
        if setting.ride:
            rides = tuple(replace(r, amount=setting.value) if r.name == setting.ride else r for r in self.rides)
            return replace(self, rides=rides)
        kept: list[Dialled] = []
        for old in self.settings:
            if folded(old.name) != folded(setting.name):
                kept.append(old)
            elif setting.side and not old.side:
                kept += [replace(old, side=side) for side in self.channels.sides if side != setting.side]
            elif setting.side and setting.side != old.side:
                kept.append(old)
        return replace(self, settings=(*kept, setting))


def grouped(stages: Sequence[StageSetup]) -> tuple[tuple[int, ...], ...]:
    """The numbers of the stages that are heard, as they are steps: each by itself, those of all buses together."""
    groups: list[tuple[int, ...]] = []
    for number, setup in enumerate(stages):
        if setup.bypass:
            continue
        if setup.bus and groups and stages[groups[-1][-1]].bus:
            groups[-1] = (*groups[-1], number)
        else:
            groups.append((number,))
    return tuple(groups)


def plugin_word(path: str) -> str:
    """A plugin as messages name it: its file without folder and ending, or its own name in a file of several."""
    file, inner = parted(path)
    return path if path.startswith("builtin:") else inner or Path(file).stem


def stage_label(name: str, path: str) -> str:
    """A stage as messages name it: 'glue' (My Compressor). path: its plugin's."""
    return f"'{name}' ({plugin_word(path)})" if path else f"'{name}'"


def loading(setup: StageSetup) -> str:
    """The phase of a worker in which a stage's plugin is loaded and its settings are made."""
    return f"loading and setting '{setup.name}' ({setup.path})"
