"""A stage outside the machine: what the sound is sent out to, and where what comes back is looked for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from sweeper.chain.embedding import read_inverted
from sweeper.chain.faults import KEEP_ONE, Faults
from sweeper.chain.mixes import find_folder
from sweeper.chain.model import Stage
from sweeper.chain.processor import read_signal
from sweeper.chain.shapes import Field, single

#: What else could be the stage, and what belongs to a plugin.
INSTEAD = ("plugin", "any of")
OF_A_PLUGIN = ("state", "channels", "settings", "blend", "drive", "ceiling", "latency", "instances")
OF_ANY = ("name", "outside", "returned", "input trim", "output trim", "polarity", "bypass", "tail")
EXAMPLE = "write what it is, e.g. outside: the tape machine"


def outside_text(known: Mapping[str, Field], faults: Faults) -> str:
    """What the sound is sent out to, in words; "" where nothing is said."""
    return single(known["outside"].value, "outside", faults, EXAMPLE) or "" if "outside" in known else ""


def read_outside(known: Mapping[str, Field], bare: Stage, folder: Path, faults: Faults) -> Stage:
    """The stage `bare` as one that stands outside."""
    if bare.bus:
        faults.add(known["outside"].mark, "'outside' stands on a bus", "move the stage to 'inserts' or 'output'")
    for name in INSTEAD:
        if name in known:
            faults.add(known[name].mark, f"'{name}' stands beside 'outside'", KEEP_ONE)
    for name in OF_A_PLUGIN:
        if name in known:
            faults.add(known[name].mark, f"'{name}' stands beside 'outside', where no plugin is",
                       f"take it out; beside 'outside' may stand: {', '.join(OF_ANY)}")
    returned = find_folder(known["returned"].value, "returned", folder, faults) if "returned" in known else None
    return replace(
        read_signal({name: field for name, field in known.items() if name in OF_ANY}, bare, faults),
        outside=outside_text(known, faults) or "?",
        inverted=read_inverted(known["polarity"], faults) if "polarity" in known else False,
        returned=returned,
        plugin_mark=known["outside"].value.mark,
    )


def refuse_returned(known: Mapping[str, Field], faults: Faults) -> None:
    """`returned` without `outside` has nothing to look for."""
    if "returned" in known:
        faults.add(known["returned"].mark, "'returned' stands without 'outside'", f"take it out, or {EXAMPLE}")
