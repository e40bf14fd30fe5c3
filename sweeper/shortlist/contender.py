"""A variant as far as choosing goes: its row, what was varied in it, what its sheet says, and where its sound is."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from pathlib import Path

from sweeper.errors import SheetError
from sweeper.records import SHEET_NAME, Sheet, StageRecord
from sweeper.shortlist.distance import Setting, Settings
from sweeper.table.row import Row
from sweeper.units import folded


@dataclass(frozen=True)
class Contender:
    """One variant to choose from.

    varied: what was chosen for it, as written; without what was solved, which follows. sound: the hash of its samples,
    "" where its sheet cannot be read. recorded: gives the stages as the sheet has them; that takes its time where
    plugins have thousands of controls, and most are never asked. render: None where its sound is not there.
    """

    row: Row
    varied: Mapping[str, str]
    sound: str = ""
    recorded: Callable[[], tuple[StageRecord, ...]] = tuple
    render: Path | None = None

    @cached_property
    def stages(self) -> tuple[StageRecord, ...]:
        """As the sheet has them; none where it cannot be read."""
        return self.recorded()

    @cached_property
    def settings(self) -> Settings:
        """What was varied, with where the controls stood."""
        return {name: Setting(text, _positions(self.stages, name, text)) for name, text in self.varied.items()}

    @property
    def id(self) -> str:
        """The variant's."""
        return self.row.id


def _positions(stages: Sequence[StageRecord], ref: str, text: str) -> Mapping[tuple[str, str], float]:
    """Where the control behind a reference stood, of each side; nothing where it is none of a plugin's.

    A handle is known by the value that was asked for; of several controls that were asked for the same, all count.
    """
    stage, _, setting = ref.partition(".")
    asked = [one for record in stages if record.name == stage for one in record.settings if one.asked == text]
    own = folded(setting.rpartition(".")[2])
    named = [one for one in asked if folded(one.name) in (own, folded(setting))]
    return {(one.name, one.side): one.raw for one in named or asked}


def contenders(folder: Path, rows: Sequence[Row], varied: Mapping[str, Mapping[str, str]]) -> list[Contender]:
    """The rows that fit, in their order, with what lies in the run's folder. varied: by id."""
    return [_contender(folder, row, varied.get(row.id, {})) for row in rows if row.fits]


def _contender(folder: Path, row: Row, varied: Mapping[str, str]) -> Contender:
    sheet = folder / "variants" / row.id / SHEET_NAME
    name = row.files.get("render")
    render = (folder / name).absolute() if name and (folder / name).is_file() else None
    return Contender(row, varied, _sound(sheet), partial(_stages, sheet), render)


def _sound(sheet: Path) -> str:
    """The hash that a sheet has; "" where it is gone or damaged: then the sound is told by comparing alone."""
    try:
        data = json.loads(sheet.read_text("utf-8"))
    except (OSError, ValueError):
        return ""
    return str(data.get("audio_sha256", "")) if isinstance(data, dict) else ""


def _stages(sheet: Path) -> tuple[StageRecord, ...]:
    """The stages that a sheet has; none where it is gone or damaged: then settings are told by their texts alone."""
    try:
        return Sheet.from_data(json.loads(sheet.read_text("utf-8")), str(sheet)).stages
    except (OSError, ValueError, SheetError):
        return ()
