"""How tracks begin and end: the stretches of the proof that are measured, and what is between neighbours."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from sweeper.album.orders import Piece, Proof
from sweeper.quantities import Measurements

#: What counts as the end of a track, and as the start of the next. Ours: long enough for a phrase, short of a verse.
#: Loudness in it is gated, so that a fade's last seconds weigh little.
EDGE_S = 10.0


@dataclass(frozen=True)
class Join:
    """Between a track and the next, both counted from 1. None = it has no value.

    gap_s: of silence. step_lu: how much louder the next track is as a whole. across_lu: how much louder its first
    ten seconds are than the last ten before. tilt_db, side_mid_db: how much brighter and wider it is as a whole.
    """

    before: int
    after: int
    gap_s: float
    step_lu: float | None
    across_lu: float | None
    tilt_db: float | None
    side_mid_db: float | None


def ranges(pieces: Sequence[Piece], starts: Sequence[int], rate_hz: int) -> dict[str, tuple[tuple[int, int], ...]]:
    """The first and the last seconds of every track, as sections of the proof."""
    edge = round(EDGE_S * rate_hz)
    found: dict[str, tuple[tuple[int, int], ...]] = {}
    for number, (piece, start) in enumerate(zip(pieces, starts, strict=True), 1):
        end = start + piece.sound
        found[start_of(number)] = ((start, min(start + edge, end)),)
        found[end_of(number)] = ((max(start, end - edge), end),)
    return found


def start_of(track: int) -> str:
    """The name of the section."""
    return f"start of {track}"


def end_of(track: int) -> str:
    """The name of the section."""
    return f"end of {track}"


def joins(tracks: Sequence[Measurements], gaps_s: Sequence[float], proof: Proof) -> tuple[Join, ...]:
    """Every change of track. tracks: what each file measures. gaps_s: the silence behind each."""
    edges = proof.measurements.sections
    return tuple(
        Join(
            number, number + 1, gaps_s[number - 1],
            _more(before, after, "loudness_lufs"),
            _more(edges[end_of(number)], edges[start_of(number + 1)], "loudness_lufs"),
            _more(before, after, "tilt_db"), _more(before, after, "side_mid_db"),
        )
        for number, (before, after) in enumerate(itertools.pairwise(tracks), 1)
    )  # fmt: skip


def _more(before: Measurements, after: Measurements, key: str) -> float | None:
    one, other = before[key], after[key]
    return None if one is None or other is None else other - one
