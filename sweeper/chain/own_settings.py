"""The settings that every stage has beside its plugin's: units, how far they go, and where they are dialled."""

from __future__ import annotations

from typing import NamedTuple

from sweeper.chain.model import BLEND, Stage


class OwnRange(NamedTuple):
    """How far one of a stage's own settings goes, both ends included, in `unit`."""

    low: float
    high: float
    unit: str


#: Ours: beyond it only a slip of the keyboard asks.
TRIM_RANGE = OwnRange(-60.0, 60.0, "dB")
#: Ours: a bus is there to be added to what it came from.
LEVEL_RANGE = OwnRange(-60.0, 20.0, "dB")
BLEND_RANGE = OwnRange(0.0, 100.0, "%")


def own_range(name: str, is_fader: bool) -> OwnRange:
    """The range of a trim or blend of a stage, or of a bus's level. name: of `OWN_SETTINGS`."""
    if name == BLEND:
        return BLEND_RANGE
    return LEVEL_RANGE if is_fader else TRIM_RANGE


def own_dialled(stage: Stage, name: str) -> float:
    """Where the chain file sets it, in the unit of its range. name: of `OWN_SETTINGS`."""
    return {"input trim": stage.input_trim_db, "output trim": stage.output_trim_db, BLEND: 100 * stage.blend}[name]
