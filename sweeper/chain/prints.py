"""`print`: what is to be handed over, and what it says of itself."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from sweeper.chain.document import Node, read_document
from sweeper.chain.faults import KEEP_ONE, Faults
from sweeper.chain.lengths import read_length_s
from sweeper.chain.model import Mark
from sweeper.chain.nearest import quoted
from sweeper.chain.print_model import Edits, PrintSpec, PrintWishes
from sweeper.chain.print_specs import find_spec, is_file_name, unknown_remedy
from sweeper.chain.shapes import Field, entries, fields, listed, single
from sweeper.errors import ChainFileError
from sweeper.units import parse_time_s

#: ISO 3901: country, registrant, year, designation; hyphens are for the eye.
ISRC = re.compile(r"([A-Z]{2})-?([A-Z0-9]{3})-?(\d{2})-?(\d{5})")
ISRC_REMEDY = "write two letters, three letters or digits, two digits and five digits: XX-XXX-26-00001"
LONGEST_FADE_S = 120.0
MOST_LETTERS = 200
EDITS = ("start", "end", "fade in", "fade out")


def read_print(field: Field, folder: Path, mixes: int, faults: Faults) -> PrintWishes:
    """folder: that of the chain file. mixes: how many it names; 0 = that does not matter any more."""
    known = fields(field.value, "print", "print", faults)
    for key in ("title", "isrc"):
        if key in known and mixes > 1:
            faults.add(
                known[key].mark,
                f"'{key}' belongs to one mix, and there are {mixes}",
                f"take it out; `sweeper print` takes --{key} for each",
            )
    return PrintWishes(
        to=read_specs(known["to"].value, folder, faults) if "to" in known else (),
        title=read_label(known, "title", faults),
        artist=read_label(known, "artist", faults),
        isrc=read_isrc(known, faults),
        edits=read_edits(known, faults),
    )


def wishes_in(text: str, chain_file: Path, name: str) -> PrintWishes:
    """What the `print` of a chain file asks for that was read and found right before; nothing else of it is looked at.

    text: the chain file's. chain_file: where it lay, for specs beside it. name: what messages call it. Raises
    ChainFileError where a spec of the user's own is gone, or wrong by now.
    """
    faults = Faults(name)
    document = read_document(text, Faults(name))
    found = entries(document, name, Faults(name)) if document is not None and document.pairs is not None else ()
    wishes = PrintWishes()
    for field in found:
        if field.name == "print":
            wishes = read_print(field, chain_file.absolute().parent, 0, faults)
    if faults:
        raise ChainFileError(faults.problems)
    return wishes


def parse_isrc(text: str) -> str | None:
    """The twelve characters of an ISRC; None when it is none."""
    match = ISRC.fullmatch(text.strip().upper())
    return "".join(match.groups()) if match else None


def read_specs(node: Node, folder: Path, faults: Faults) -> tuple[PrintSpec, ...]:
    """What `to` names, each once. folder: where specs of the user's own are looked for."""
    found: dict[str, PrintSpec] = {}
    for item in listed(node, "to", faults):
        written = single(item, "to", faults, "write the name of a print spec")
        spec = _spec(written, item.mark, folder, faults) if written is not None else None
        if spec is not None and spec.name in found:
            faults.add(item.mark, f"{quoted(spec.name)} stands twice in 'to'", KEEP_ONE)
        elif spec is not None:
            found[spec.name] = spec
    return tuple(found.values())


def _spec(written: str, mark: Mark, folder: Path, faults: Faults) -> PrintSpec | None:
    try:
        return find_spec(written, folder)
    except ChainFileError as error:
        if is_file_name(written):
            faults.include(error.problems)
        else:
            faults.add(mark, f"no print spec is called {quoted(written)}", unknown_remedy(written))
        return None


def read_label(known: Mapping[str, Field], key: str, faults: Faults) -> str:
    """A title or an artist; "" where there is none."""
    text = single(known[key].value, key, faults) if key in known else None
    if text is not None and len(text) > MOST_LETTERS:
        faults.add(known[key].value.mark, f"this {key} has {len(text)} letters", f"write {MOST_LETTERS} at most")
    return text or ""


def read_isrc(known: Mapping[str, Field], faults: Faults) -> str:
    """The twelve characters of an ISRC; "" where there is none."""
    text = single(known["isrc"].value, "isrc", faults, ISRC_REMEDY) if "isrc" in known else None
    if text is None:
        return ""
    found = parse_isrc(text)
    if found is None:
        faults.add(known["isrc"].value.mark, f"isrc is {quoted(text)}", ISRC_REMEDY)
    return found or ""


def read_edits(known: Mapping[str, Field], faults: Faults) -> Edits:
    """What EDITS name."""
    start_s, end_s = (_time_s(known, key, faults) for key in ("start", "end"))
    if start_s is not None and end_s is not None and end_s <= start_s:
        faults.add(known["end"].value.mark, "'end' lies at or before 'start'", "write the later time there")
    fades = [
        read_length_s(known[key].value, key, LONGEST_FADE_S, faults) if key in known else None
        for key in ("fade in", "fade out")
    ]
    return Edits(start_s or 0.0, end_s, fades[0] or 0.0, fades[1] or 0.0)


def _time_s(known: Mapping[str, Field], key: str, faults: Faults) -> float | None:
    remedy = 'write a time in the render, e.g. "0:00.5" or 500 ms'
    text = single(known[key].value, key, faults, remedy) if key in known else None
    if text is None:
        return None
    found = parse_time_s(text)
    if found is None:
        faults.add(known[key].value.mark, f"{key} is {quoted(text)}, no time", remedy)
    return found
