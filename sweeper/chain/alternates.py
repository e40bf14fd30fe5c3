"""Mixes that are rendered with another mix's settings: instrumentals, clean and TV mixes beside their main mix."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from sweeper.chain.document import Node, read_document
from sweeper.chain.faults import Faults
from sweeper.chain.model import Mix
from sweeper.chain.nearest import quoted, suggestion


def joined(mixes: Sequence[Mix], faults: Faults) -> tuple[Mix, ...]:
    """The mixes, each alternate with the main mix as that is written, and with its sections where it has none.

    A main mix is named as it is written, or by its file's name alone.
    """
    return tuple(mix if mix.settings_from is None else _joined(mix, mixes, faults) for mix in mixes)


def _joined(mix: Mix, mixes: Sequence[Mix], faults: Faults) -> Mix:
    assert mix.settings_from is not None
    named = mix.settings_from
    main = next((one for one in mixes if named in (one.written, one.file.name, Path(one.written).stem)), None)
    if main is None:
        others = [one.written for one in mixes if one is not mix]
        faults.add(mix.mark, f"'settings from' names no mix of this file: {quoted(named)}", suggestion(named, others))
        return replace(mix, settings_from=None)
    if main is mix:
        faults.add(mix.mark, f"{quoted(mix.written)} is to have its settings from itself",
                   "name the main mix, or take 'settings from' out")
        return replace(mix, settings_from=None)
    if main.settings_from is not None:
        faults.add(mix.mark, f"{quoted(main.written)} has its own settings from {quoted(main.settings_from)}",
                   f"write settings from: {main.settings_from}")
        return replace(mix, settings_from=None)
    return replace(mix, settings_from=main.written, sections=mix.sections or main.sections)


def alternates_in(text: str, name: str) -> frozenset[str]:
    """The files of the mixes, as written, that a chain file renders with another mix's settings.

    text: of a chain file that was read and found right before. name: what messages call it.
    """
    document = read_document(text, Faults(name))
    mixes = [value for key, value in (document.pairs or ()) if key.text in ("mix", "mixes")] if document else []
    items = [item for value in mixes for item in (value.items or (value,))]
    return frozenset(file for item in items if (file := _file_of_alternate(item)) is not None)


def _file_of_alternate(item: Node) -> str | None:
    known = {key.text: value.text for key, value in item.pairs or ()}
    return known.get("file") if "settings from" in known else None
