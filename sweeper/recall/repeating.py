"""Which renders of ours two files are, and how well the plugins that made them repeat themselves."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from sweeper.audio import read_tag
from sweeper.errors import SheetError
from sweeper.recall.find import find
from sweeper.records import Sheet
from sweeper.units import parse_amount


@dataclass(frozen=True)
class Unsteady:
    """A stage that does not give the same twice. floor_dbfs: the peak of what two renders of it differed by."""

    name: str
    plugin: str
    floor_dbfs: float


def sheet_of(file: Path, results: Path) -> Sheet | None:
    """The sheet of a sound file, beside it or in a run under `results`; None where it has none that can be used."""
    tag = read_tag(file)
    if tag is None or not tag.reference:
        return None
    try:
        return find(file, results).sheet
    except SheetError:  # it is another's, or its run is gone: nothing is claimed of the file then
        return None


def unsteady(sheets: Iterable[Sheet | None]) -> tuple[Unsteady, ...]:
    """The stages that are known not to repeat, the least steady first; each once."""
    found: dict[tuple[str, str], float] = {}
    for sheet in sheets:
        for stage in sheet.stages if sheet is not None else ():
            amount = None if stage.bypass else parse_amount(stage.repeats)
            if amount is not None and amount.unit == "dBFS":
                key = stage.name, stage.plugin
                found[key] = max(amount.value, found.get(key, amount.value))
    return tuple(Unsteady(*key, floor) for key, floor in sorted(found.items(), key=lambda one: -one[1]))
