"""The bytes of a chain file as text, and what text editors and word processors do to them."""

from __future__ import annotations

import codecs
from pathlib import Path

from sweeper.chain.faults import Faults
from sweeper.chain.model import Mark

LONGEST_BYTES = 2_000_000  # a chain file of a thousand variants is a hundred times shorter
SAVE_PLAIN = "save it from the editor as plain text (UTF-8)"
#: How files that are no text begin.
MAGIC = (
    (b"{\\rtf", "is rich text, not plain text", "in the editor choose 'make plain text' and save it again"),
    (b"PK\x03\x04", "is a word-processor document or an archive, not plain text", SAVE_PLAIN),
    (b"\xd0\xcf\x11\xe0", "is a word-processor document, not plain text", SAVE_PLAIN),
    (b"<!DOCTYPE", "is a web page, not a chain file", SAVE_PLAIN),
    (b"<html", "is a web page, not a chain file", SAVE_PLAIN),
    *((magic, "is a sound file, not a chain file", "`sweeper start MIX` writes a chain file for a mix")
      for magic in (b"RIFF", b"RF64", b"BW64", b"FORM", b"fLaC", b"OggS", b"ID3")),
)  # fmt: skip
#: Byte-order marks, the longer first.
ORDER_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)


def read_text(path: Path, faults: Faults) -> str | None:
    """The text of the file without its byte-order mark; None with a fault when it has none."""
    try:
        if path.is_dir():
            faults.add(None, "is a folder, not a chain file", "name the chain file inside it")
            return None
        with path.open("rb") as stream:
            data = stream.read(LONGEST_BYTES + 1)
    except FileNotFoundError:
        faults.add(None, "there is no such file", "check the name and the folder")
        return None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        faults.add(None, f"cannot be read: {reason.lower()}", "check the name and who may read it")
        return None
    return decode(data, faults)


def decode(data: bytes, faults: Faults) -> str | None:
    """The bytes as text; None with a fault when they are no plain text."""
    for magic, what, remedy in MAGIC:
        if data.removeprefix(codecs.BOM_UTF8).lstrip()[: len(magic)] == magic:
            faults.add(None, what, remedy)
            return None
    if len(data) > LONGEST_BYTES:
        faults.add(None, "is too large for a chain file (over 2 MB)", "check that it is the right file")
        return None
    order_mark, encoding = next(((m, e) for m, e in ORDER_MARKS if data.startswith(m)), (b"", "utf-8"))
    body = data[len(order_mark) :]
    try:
        return body.decode(encoding)
    except UnicodeDecodeError as error:
        before = body[: error.start].decode(encoding, errors="replace")
        faults.add(place(before, len(before)), "a character here is not UTF-8 text", SAVE_PLAIN)
        return None


def place(text: str, index: int) -> Mark:
    """Line and column of the character at `index`, as the YAML reader counts them."""
    before = text[:index].replace("\r\n", "\n")
    for line_end in "\r\x85\u2028\u2029":
        before = before.replace(line_end, "\n")
    return Mark(before.count("\n") + 1, len(before) - (before.rfind("\n") + 1) + 1)
