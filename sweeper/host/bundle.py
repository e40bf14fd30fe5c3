"""What a plugin bundle says of itself on disk, without loading it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from sweeper.host import misfit
from sweeper.host.place import parted
from sweeper.host.told import Told, told_by

_FORMATS = {".vst3": "VST3", ".component": "AU"}


@dataclass(frozen=True)
class Installed:
    """A plugin file found on this machine.

    names: of the effects in it: one, or several for a bundle that holds several plugins. instruments: names of what
    else is in it. names_told: False = nothing on the disk says what it holds; names is then (name,).
    fault: why it cannot be loaded here, completing "it is ..."; "" when nothing speaks against it. remedy: for it.
    note: what an engineer should know of its files.
    """

    name: str
    path: Path
    format: str
    maker: str
    version: str
    names: tuple[str, ...]
    fault: str
    remedy: str = ""
    note: str = ""
    instruments: tuple[str, ...] = ()
    names_told: bool = False


def look_into(path: Path) -> Installed:
    """Describe the VST3, AU or VST2 at `path` from its folder and the text files in it."""
    kind = _FORMATS.get(path.suffix.lower(), "VST2")
    if kind == "VST2":
        name = misfit.vst2_name(path)
        return Installed(name, path, kind, "", "", (name,), *misfit.VST2)
    told = told_by(path)
    held = told.effects + told.instruments
    name = held[0] if len(held) == 1 else path.stem
    fault, remedy = _misfit(path, told)
    names = told.effects or held or (name,)
    return Installed(name, path, kind, told.maker, told.version, names, fault, remedy, told.note, told.instruments,
                     bool(held))  # fmt: skip


def _misfit(path: Path, told: Told) -> misfit.Misfit:
    found = misfit.misfit(path)
    return misfit.INSTRUMENT if not found.what and told.instruments and not told.effects else found


def program_of(place: Path | str) -> Path:
    """The file that holds the code of the plugin at a place, which may name one of several: "BUNDLE.vst3::NAME"."""
    return misfit.program_of(Path(parted(str(place))[0]))
