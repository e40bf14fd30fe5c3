"""What a document asks for, with where that is known from."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Kind(Enum):
    """What a document is about: files as they are delivered, or what a player turns them to afterwards."""

    DELIVERY = "delivery"
    PLAYBACK = "playback normalisation"


class Status(Enum):
    """How well the numbers are known."""

    TOLD = "read in the publisher's guidelines, the document itself not read"
    QUOTED = "quoted in public, the document itself not read"


@dataclass(frozen=True)
class Target:
    """One set of numbers of one document.

    id: what chain files and `--against` call it. date: of the edition, as far as it is known. applies_to: to what.
    loudness_lufs: the goal. below_lu, above_lu: how far under and over it is allowed; None where nothing is known.
    true_peak_max_dbtp, short_term_max_lufs: ceilings; None where there is none. status, source: how the numbers are
    known, and from where. notes: whole sentences.
    """

    id: str
    kind: Kind
    document: str
    edition: str
    date: str
    applies_to: str
    loudness_lufs: float
    below_lu: float | None
    above_lu: float | None
    true_peak_max_dbtp: float | None
    status: Status
    source: str
    short_term_max_lufs: float | None = None
    notes: tuple[str, ...] = ()
