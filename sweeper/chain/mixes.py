"""The mixes to master, their sections, and the references."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import NamedTuple

from sweeper.chain.alternates import joined
from sweeper.chain.document import Node
from sweeper.chain.faults import KEEP_ONE, Faults
from sweeper.chain.model import Mark, Mix, Reference, Section
from sweeper.chain.nearest import nearest, quoted
from sweeper.chain.shapes import Field, entries, fields, listed, single
from sweeper.units import parse_time_s, plain


def find_file(node: Node, what: str, folder: Path, faults: Faults) -> tuple[Path | None, str]:
    """A file named in the chain file, as a path from its folder, and as written.

    One that is not there is a fault, and comes back all the same; None where nothing was named.
    """
    written = node.text
    if single(node, what, faults, "write the file's name") is None or written is None:
        return None, ""
    file, siblings = folder / written, []
    try:
        file = faults.placed(folder / Path(written).expanduser())
        if file.is_file():
            return file, written
        if file.is_dir():
            faults.add(node.mark, f"{quoted(written)} is a folder, not a file", "name the file inside it")
            return file, written
        siblings = [each.name for each in file.parent.iterdir()] if file.parent.is_dir() else []
    except (OSError, ValueError, RuntimeError):  # a name too long, ~ of nobody: it is not there
        siblings = []
    stems = {Path(name).stem: name for name in siblings}  # the ending alone makes no likeness
    near = stems.get(nearest(file.stem, stems) or "")
    faults.add(node.mark, f"there is no file {quoted(written)}",
               f"did you mean '{near}'?" if near else "paths start from the chain file's folder")
    return file, written


def find_folder(node: Node, what: str, folder: Path, faults: Faults) -> Path | None:
    """A folder named in the chain file, as a path from its folder; None with a fault when it is not there."""
    written = single(node, what, faults, "write the folder's name")
    if written is None:
        return None
    found = folder / written
    try:
        found = faults.placed(folder / Path(written).expanduser())
        there, is_file = found.is_dir(), found.is_file()
    except (OSError, ValueError, RuntimeError):  # a name too long, ~ of nobody: it is not there
        there = is_file = False
    if there:
        return found
    faults.add(node.mark, f"{quoted(written)} is a file, not a folder" if is_file else
               f"there is no folder {quoted(written)}",
               "name the folder it is in" if is_file else "make it; paths start from the chain file's folder")
    return None


class MixesRead(NamedTuple):
    """The mixes, and of each what stands beside its file: what of that names stages is read once these are known."""

    mixes: tuple[Mix, ...]
    beside: tuple[Mapping[str, Field], ...]


def read_mixes(known: Mapping[str, Field], folder: Path, faults: Faults) -> MixesRead:
    """Every mix under `mixes`, or the one under `mix`."""
    if "mix" in known and "mixes" in known:
        faults.add(known["mix"].mark, "'mix' and 'mixes' both stand in this file", KEEP_ONE)
    fields_ = [known[key] for key in ("mix", "mixes") if key in known]
    if not fields_:
        faults.add(None, "names no mix", "add mix: FILE")
        return MixesRead((), ())
    found: list[tuple[Mix, Mapping[str, Field]]] = []
    for field in fields_:
        items = listed(field.value, field.name, faults)
        if not items and (field.value.empty or field.value.items == ()):
            faults.add(field.mark, f"'{field.name}' names no file", "write the mix's file name")
        found += [mix for mix in (_mix(item, folder, faults) for item in items) if mix is not None]
    mixes = [mix for mix, _ in found]
    _once_each(mixes, faults)
    return MixesRead(joined(mixes, faults), tuple(beside for _, beside in found))


def _mix(node: Node, folder: Path, faults: Faults) -> tuple[Mix, Mapping[str, Field]] | None:
    if node.pairs is None:
        file, written = find_file(node, "a mix", folder, faults)
        return None if file is None else (Mix(file, written, (), node.mark), {})
    known = fields(node, "mix", "a mix", faults)
    sections = _sections(known["sections"].value, faults) if "sections" in known else ()
    if "file" not in known:
        faults.add(node.mark, "this mix names no file", "add file: NAME")
        return None
    file, written = find_file(known["file"].value, "file", folder, faults)
    if file is None:
        return None
    source = known.get("settings from")
    name = single(source.value, "settings from", faults, "write the main mix's file name") if source else None
    return Mix(file, written, sections, known["file"].value.mark, name), known


def _sections(node: Node, faults: Faults) -> tuple[Section, ...]:
    found = (_section(field, faults) for field in entries(node, "sections", faults))
    return tuple(section for section in found if section is not None)


def _section(field: Field, faults: Faults) -> Section | None:
    example = 'write FROM-TO, e.g. "0:40-1:00"'
    text = single(field.value, f"section {quoted(field.name)}", faults, example)
    if text is None:
        return None
    span = parse_span_s(text)
    if span is None:
        faults.add(field.value.mark, f"section {quoted(field.name)} is {quoted(text)}", example)
        return None
    start_s, end_s = span
    if end_s <= start_s:
        faults.add(field.value.mark, f"section {quoted(field.name)} ends at or before its start",
                   "write the earlier time first")
    return Section(field.name, start_s, end_s)


def parse_span_s(text: str) -> tuple[float, float] | None:
    """Read "0:40-1:00" as seconds; None when it is no stretch of time. The end may come before the start."""
    times = [parse_time_s(part) for part in plain(text).split("-")]
    start_s, end_s = times if len(times) == 2 else (None, None)
    return None if start_s is None or end_s is None else (start_s, end_s)


def _once_each(mixes: list[Mix], faults: Faults) -> None:
    met: dict[Path, Mix] = {}
    for mix in mixes:
        first = met.setdefault(_real(mix.file), mix)
        if first is not mix:
            faults.add(mix.mark, f"{quoted(mix.written)} is on line {first.mark.line} already", KEEP_ONE)


def _real(file: Path) -> Path:
    """The file behind links and '..', for telling whether two names mean one file."""
    try:
        return file.resolve()
    except (OSError, RuntimeError):  # a loop of links: it was told that no file is there
        return file


def read_references(node: Node, folder: Path, faults: Faults) -> tuple[Reference, ...]:
    """The records to compare with."""
    found = []
    for item in listed(node, "references", faults):
        file, written = find_file(item, "a reference", folder, faults)
        if file is not None:
            found.append(Reference(file, written, item.mark))
    return tuple(found)


def read_match_over(node: Node, mixes: tuple[Mix, ...], faults: Faults) -> tuple[str, ...]:
    """The sections at whose loudness the variants are matched; every mix must have them."""
    found: dict[str, Mark] = {}
    for item in listed(node, "match over", faults):
        name = single(item, "an entry of 'match over'", faults, "write a section's name")
        if name is None:
            continue
        if name in found:
            faults.add(item.mark, f"{quoted(name)} stands twice", KEEP_ONE)
        found[name] = item.mark
        check_section(name, item.mark, mixes, "add it there: all mixes are matched over the same sections", faults)
    return tuple(found)


def check_section(name: str, mark: Mark, mixes: tuple[Mix, ...], remedy_where_missing: str, faults: Faults) -> bool:
    """Whether every mix has a section of that name; a fault where one has not."""
    names = sorted({section.name for mix in mixes for section in mix.sections})
    without = [mix for mix in mixes if all(section.name != name for section in mix.sections)]
    if name not in names:
        near = nearest(name, names)
        remedy = f"did you mean '{near}'?" if near else "add it under the mix's 'sections'"
        faults.add(mark, f"no section is called {quoted(name)}", remedy)
    elif without:
        faults.add(mark, f"the mix {quoted(without[0].written)} has no section {quoted(name)}", remedy_where_missing)
    return name in names and not without
