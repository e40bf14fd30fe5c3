"""Patterns of the names that printed files get."""

from __future__ import annotations

import re
import string
import unicodedata
from collections.abc import Mapping

from sweeper.chain.faults import Faults
from sweeper.chain.nearest import quoted
from sweeper.chain.shapes import Field, single

#: What stands in braces -> what it becomes.
NAME_FIELDS = {
    "title": "the title",
    "artist": "the artist",
    "isrc": "the ISRC",
    "track": "the place on an album, 01",
    "variant": "the variant's number",
    "spec": "the spec's name",
    "rate": "the rate in kHz",
    "word": "the word length or the format",
}
#: What no file system of ours takes, or what means a folder.
FORBIDDEN = re.compile(r'[<>:"/\\|?*\x00-\x1f]+')
#: Names that Windows keeps for itself (Microsoft, "Naming Files, Paths, and Namespaces").
RESERVED = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\.|$)", re.IGNORECASE)
MOST_LETTERS = 150


def read_pattern(field: Field, faults: Faults) -> str | None:
    """A pattern as written; None with a fault when it is none."""
    text = single(field.value, field.name, faults, 'write e.g. "{title} ({spec})"')
    if text is None:
        return None
    fault = pattern_fault(text)
    if fault:
        faults.add(field.value.mark, fault[0], fault[1])
        return None
    return text


def pattern_fault(text: str) -> tuple[str, str] | None:
    """What is wrong with a pattern, and the remedy; None where it is one."""
    known = ", ".join(f"{{{name}}}" for name in NAME_FIELDS)
    try:
        parts = list(string.Formatter().parse(text))
    except ValueError:
        return f"name is {quoted(text)}, whose braces do not match", f"known are {known}"
    for _, name, form, conversion in parts:
        if name is not None and (name not in NAME_FIELDS or form or conversion):
            return f"name has {quoted('{' + name + '}')}", f"known are {known}"
    if "/" in text or "\\" in text:
        return f"name is {quoted(text)}, with a folder in it", "write the name alone; --out says which folder"
    if not text.strip():
        return "name is empty", 'write e.g. "{title} ({spec})"'
    return None


def file_name(pattern: str, values: Mapping[str, str], ending: str) -> str:
    """The file's name. What a disk does not take becomes a hyphen; what is empty takes its brackets along."""
    name = unicodedata.normalize("NFC", pattern.format_map(dict(values)))
    name = re.sub(r"\(\s*\)|\[\s*\]", "", FORBIDDEN.sub("-", name))
    name = re.sub(r"^[\s\-.]+|[\s\-.]+$", "", re.sub(r"\s+", " ", name))[:MOST_LETTERS].rstrip(" .") or "print"
    return f"{'_' if RESERVED.match(name) else ''}{name}{ending}"
