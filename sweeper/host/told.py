"""What the text files in a bundle tell of the plugins in it: moduleinfo.json, and Info.plist on macOS."""

from __future__ import annotations

import json
import plistlib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.parsers.expat import ExpatError

#: Types of Audio Units that are instruments (Apple, AudioComponent.h: kAudioUnitType_MusicDevice; from memory).
_AU_INSTRUMENT = "aumu"


@dataclass(frozen=True)
class Told:
    """effects, instruments: the plugins' names. note: what in the files cannot be read, "" when all can.

    maker, version: "" where the files do not say.
    """

    effects: tuple[str, ...] = ()
    instruments: tuple[str, ...] = ()
    maker: str = ""
    version: str = ""
    note: str = ""


def told_by(bundle: Path) -> Told:
    """What a bundle's files tell; an empty answer where there are none."""
    for place in ("Contents/Resources/moduleinfo.json", "Contents/moduleinfo.json"):
        if (bundle / place).is_file():
            return _module_info(bundle / place)
    plist = bundle / "Contents" / "Info.plist"
    return _info_plist(plist) if plist.is_file() else Told()


def _module_info(file: Path) -> Told:
    """moduleinfo.json of the VST3 developer documentation: JSON that may have comments and trailing commas."""
    try:
        text = re.sub(r",(\s*[}\]])", r"\1", file.read_text("utf-8-sig"))
        data = json.loads(re.sub(r"^\s*//.*$", "", text, flags=re.MULTILINE))
        classes = [c for c in data.get("Classes", []) if c.get("Category") == "Audio Module Class"]
        names = [(str(c["Name"]), "Instrument" in _sub_categories(c)) for c in classes]
        maker, version = str(data.get("Factory Info", {}).get("Vendor", "")), str(data.get("Version", ""))
    except (OSError, ValueError, KeyError, AttributeError, TypeError):
        return Told(note="its moduleinfo.json cannot be read; its name is taken from its folder")
    return _told(names, maker, version)


def _sub_categories(described: Mapping[str, Any]) -> Sequence[str]:
    """"Fx|Dynamics", or a list of such words."""
    written = described.get("Sub Categories", [])
    return written.split("|") if isinstance(written, str) else [str(word) for word in written]


def _info_plist(file: Path) -> Told:
    try:
        data = plistlib.loads(file.read_bytes())
        version = str(data.get("CFBundleShortVersionString", data.get("CFBundleVersion", "")))
        units = [
            (str(unit["name"]).partition(":"), unit.get("type") == _AU_INSTRUMENT)
            for unit in data.get("AudioComponents", [])
        ]
    except (OSError, ValueError, KeyError, AttributeError, TypeError, ExpatError, plistlib.InvalidFileException):
        return Told(note="its Info.plist cannot be read; its name is taken from its folder")
    names = [((name or maker).strip(), is_instrument) for (maker, _, name), is_instrument in units]
    maker = next((maker.strip() for (maker, colon, _), _ in units if colon), "")
    return _told(names, maker, version)


def _told(names: Sequence[tuple[str, bool]], maker: str, version: str) -> Told:
    effects = tuple(name for name, is_instrument in names if not is_instrument)
    return Told(effects, tuple(name for name, is_instrument in names if is_instrument), maker, version)
