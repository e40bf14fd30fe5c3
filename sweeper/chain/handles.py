"""Handles: a plugin's control named for what it does (`drive: raise Input`)."""

from __future__ import annotations

from sweeper.chain.faults import Faults
from sweeper.chain.model import OWN_SETTINGS, Handle
from sweeper.chain.nearest import quoted
from sweeper.chain.shapes import Field, folded, single
from sweeper.units import plain

DIRECTIONS = ("raise", "lower")


def read_handle(field: Field, faults: Faults) -> Handle | None:
    """A drive, which says its direction, or a ceiling, which has none. A faulty one comes back too."""
    text = single(field.value, field.name, faults, f"write the control's name, e.g. {_example(field.name)}")
    if text is None:
        return None
    direction, setting = "", text
    if field.name == "drive":
        word, _, setting = text.partition(" ")
        direction = word.casefold()
        if direction not in DIRECTIONS or not setting.strip():
            faults.add(field.value.mark, f"drive is {quoted(text)}, which does not say the way to more drive",
                       f"write e.g. 'raise {setting or text}' or 'lower {setting or text}'"
                       if direction not in DIRECTIONS else f"write e.g. {_example('drive')}")
            direction, setting = "raise", setting or text  # that the stage has a drive stays known
    setting = folded(plain(setting)) if folded(plain(setting)) in OWN_SETTINGS else setting.strip()
    return Handle(field.name, direction, setting, field.mark)


def _example(name: str) -> str:
    return "'raise Input' or 'lower Threshold'" if name == "drive" else "'Ceiling'"
