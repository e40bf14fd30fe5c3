"""How a plugin's place is written: the path of its file, and "::" with its own name where the file holds several."""

from __future__ import annotations

import re

SEPARATOR = "::"
SUFFIXES = (".vst3", ".component")
_PLACE = re.compile(r"(?P<file>.*?\.(?:vst3|component))\s*::\s*(?P<inner>.+)", re.IGNORECASE | re.DOTALL)


def parted(place: str) -> tuple[str, str]:
    """The file and the name of the plugin in it: "/a/Shell.vst3::Comp" is ("/a/Shell.vst3", "Comp").

    The name is "" where the place is that of a file with one plugin, or "builtin:NAME".
    """
    match = _PLACE.fullmatch(place)
    return (match["file"], match["inner"].strip()) if match else (place, "")


def joined(file: str, inner: str) -> str:
    """The place of the plugin `inner` in a file; inner "" = the file holds one."""
    return f"{file}{SEPARATOR}{inner}" if inner else file
