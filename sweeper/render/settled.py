"""A stage as it was recorded, to be hosted again: every setting by its position, not by its text."""

from __future__ import annotations

from dataclasses import replace

from sweeper.chain.model import Travel
from sweeper.host.setup import Dialled, StageSetup
from sweeper.records import Applied, StageRecord


def dialled(applied: Applied) -> Dialled:
    """A setting to be made where it stood."""
    return Dialled(applied.name, applied.side, Travel(applied.raw, applied.asked or applied.text), applied.raw)


def settled(setup: StageSetup, record: StageRecord) -> StageSetup:
    """The stage of a variant with everything that a reach solved where it ended, outside its rides."""
    return replace(setup, settings=tuple(map(dialled, record.settings)), input_trim_db=record.input_trim_db,
                   output_trim_db=record.output_trim_db, blend=record.blend)  # fmt: skip
