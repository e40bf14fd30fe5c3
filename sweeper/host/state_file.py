"""State files: what is in one, and why one cannot be used, told before a plugin sees it.

The layout of a `.vstpreset` is that of Steinberg's VST 3 documentation ("Preset Format"), numbers little-endian:
"VST3", int32 version, 32 characters of class id, int64 offset of the list; there "List", int32 count, and for each
chunk its four-character id, int64 offset and int64 size. "Comp" is the plugin's own state.
"""

from __future__ import annotations

import plistlib
import struct
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.parsers.expat import ExpatError

from sweeper.errors import StateError

#: What works whatever a maker calls its files.
DIAL_IT = "open it with `sweeper dial CHAIN STAGE`: load your preset in the plugin's own window and close that"
_HEADER = struct.Struct("<4si32sq")
_LIST = struct.Struct("<4si")
_ENTRY = struct.Struct("<4sqq")
_COMPONENT = b"Comp"
#: How files begin that other programs make, and what they are called.
_OTHERS = ((b"CcnK", "a VST2 preset (.fxp or .fxb)"), (b"bplist", "an Audio Unit preset"), (b"<?xml", "an XML file"),
           (b"PK\x03\x04", "an archive"))  # fmt: skip


@dataclass(frozen=True)
class Preset:
    """A `.vstpreset`. class_id: 32 hex digits, of the plugin it is for. component: the plugin's own state."""

    class_id: str
    component: bytes


def read_state(path: Path) -> bytes:
    """The bytes of a state file. Raises StateError when it cannot be read."""
    try:
        return path.read_bytes()
    except OSError as exc:
        raise StateError(f"the state {path.name} cannot be read: {exc.strerror or exc}", "check its path") from exc


def preset_in(data: bytes, name: str) -> Preset:
    """Take a `.vstpreset` apart. name: the file's, for messages.

    Raises StateError when it is of another kind, cut short, or holds no state of a plugin.
    """
    if data[:4] != b"VST3":
        raise _other_kind(data, name)
    try:
        _, _, class_id, at = _HEADER.unpack_from(data)
        chunks = _chunks(data, at)
    except (struct.error, ValueError) as exc:
        raise StateError(f"{name} is damaged: {_in_words(exc, len(data))}",
                         f"save the state again, or {DIAL_IT}") from exc  # fmt: skip
    if _COMPONENT not in chunks:
        raise StateError(f"{name} holds no state of a plugin", f"save the state again, or {DIAL_IT}")
    return Preset(class_id.decode("latin-1").upper(), chunks[_COMPONENT])


def audio_unit_codes(data: bytes, name: str) -> tuple[str, str, str]:
    """(type, subtype, maker) of the Audio Unit that an `.aupreset` is for, four characters each; "" where not told.

    The layout, a property list, is from memory of Apple's Audio Unit documentation; untested on a Mac.
    Raises StateError when it is no `.aupreset`.
    """
    try:
        held = plistlib.loads(data)
    except (plistlib.InvalidFileException, ExpatError, ValueError, IndexError, struct.error, OverflowError) as exc:
        raise StateError(f"{name} is no .aupreset file", f"save the state as an .aupreset, or {DIAL_IT}") from exc
    if not isinstance(held, dict) or not {"type", "subtype", "manufacturer"} <= held.keys():
        raise StateError(f"{name} does not say which Audio Unit it is for", f"save the state again, or {DIAL_IT}")
    return _code(held, "type"), _code(held, "subtype"), _code(held, "manufacturer")


def _chunks(data: bytes, at: int) -> dict[bytes, bytes]:
    """The chunks by id; of several with one id the first. Raises struct.error or ValueError where one is not there."""
    if not _HEADER.size <= at < len(data):
        raise ValueError("its list of contents lies beyond its end")
    mark, count = _LIST.unpack_from(data, at)
    if mark != b"List" or count < 0:
        raise ValueError("it has no list of contents")
    chunks: dict[bytes, bytes] = {}
    for number in range(count):
        id, start, size = _ENTRY.unpack_from(data, at + _LIST.size + number * _ENTRY.size)
        if start < 0 or size < 0 or start + size > len(data):
            raise ValueError(f"its part '{id.decode('latin-1')}' goes beyond its end")
        chunks.setdefault(id, data[start : start + size])
    return chunks


def _in_words(exc: Exception, size: int) -> str:
    return f"it ends after {size} bytes" if isinstance(exc, struct.error) else str(exc)


def _other_kind(data: bytes, name: str) -> StateError:
    known = next((f", but {what}" for start, what in _OTHERS if data.startswith(start)), "")
    return StateError(f"{name} is no .vstpreset file{known}",
                      f"of state files only .vstpreset can be loaded; or {DIAL_IT}")  # fmt: skip


def _code(held: Mapping[str, Any], key: str) -> str:
    number = held[key]
    return number.to_bytes(4, "big").decode("latin-1") if isinstance(number, int) and 0 <= number < 1 << 32 else ""
