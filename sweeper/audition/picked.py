"""Which variants of a run were picked, as far as its notes say."""

from __future__ import annotations

from collections.abc import Sequence

from sweeper.audition.heard import Heard
from sweeper.records.picks import KEEP
from sweeper.table.picks import picks_of


def to_preview(heard: Heard, named: Sequence[str]) -> tuple[str, ...]:
    """The ids to hear through codecs: those named; else those of them that are to be kept; else the first of each mix.
    """
    there = [[one.id for one in mix.sounds if one.row is not None] for mix in heard.mixes]
    every = [id for ids in there for id in ids]
    if named:
        return tuple(every)
    picks = picks_of(heard.run.path)
    kept = [id for id in every if picks and id in picks.picks and picks.picks[id].verdict == KEEP]
    return tuple(kept or [ids[0] for ids in there])
