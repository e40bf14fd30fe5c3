"""Which pieces of a mix stand for the whole of it: some of every loudness, and those where peaks are likely."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sweeper.meter.gating_blocks import BLOCK_TENTHS, Blocks
from sweeper.meter.overshoots import Overshoots

#: How much of a mix the pieces take with their leads, those that foretell, and those that are measured by themselves.
SHARE, LISTENED = 0.06, 1 / 6
#: A piece that is played for its peak, and its lead; how many of them swing furthest past their samples, and how loud
#: those are at least, as a share of the highest sample.
AT_PEAK, SHORT_LEAD, SWINGING, LOUD = BLOCK_TENTHS, 3, 3, 0.4
#: All pieces of a long mix together, with their leads, in tenths of a second.
MOST = 600


@dataclass(frozen=True)
class Lengths:
    """How long pieces are, in tenths of a second, and how many. lead: what is played before a piece so that detectors
    are at work when it begins. most_share: of a mix, with their leads, where it is short."""

    lead: int
    shortest: int
    longest: int
    usual: int
    fewest: int
    most_share: float


#: To foretell a full render by, by trial.
SHORT = Lengths(lead=5, shortest=15, longest=30, usual=6, fewest=4, most_share=0.14)
#: To measure by themselves what takes windows of 3 s: 6 s hold thirty of them. A mix of a minute is long enough.
LONG = Lengths(lead=10, shortest=60, longest=60, usual=6, fewest=4, most_share=0.48)


@dataclass(frozen=True)
class Piece:
    """A stretch of a mix, in tenths of a second. first: where it begins, behind `lead` that is played before it."""

    first: int
    lead: int
    inside: int

    @property
    def blocks(self) -> slice:
        """The blocks that lie inside it, by their numbers in the mix."""
        return slice(self.first, self.first + self.inside - BLOCK_TENTHS + 1)

    def holds(self, tenth: int) -> bool:
        """Whether a tenth of a second lies inside it."""
        return 0 <= tenth - self.first < self.inside

    @property
    def length(self) -> int:
        """What is played of it, its lead included."""
        return self.lead + self.inside


def pieces(mix: Blocks, share: float = SHARE, lengths: Lengths = SHORT) -> tuple[Piece, ...]:
    """The pieces to play of a mix, in order of time; () where it is too short for them, or silent.

    They are spread from the quiet to the loud by the square root of their energy: the loud is what integrated loudness
    is made of, the quiet is what a chain may lift over its gate. share: how much of the mix they take with their leads.
    The choice is ours; by trial on real tracks and limiters what they foretell of the whole is 0.1 to 0.3 LU off.
    """
    room = min(share * mix.powers.size, MOST)
    lead = lengths.lead
    inside = min(max(int(room / lengths.usual) - lead, lengths.shortest), lengths.longest)
    wanted, count = max(int(room / (inside + lead)), lengths.fewest), mix.powers.size // inside
    if wanted * (inside + lead) > lengths.most_share * mix.powers.size:
        return ()
    weights = np.sqrt(mix.powers[: count * inside].reshape(count, inside).sum(axis=1))
    if not weights.sum() > 0:
        return ()
    chosen: set[int] = set()
    ranks = np.argsort(weights, kind="stable")
    shares = np.cumsum(weights[ranks]) / weights.sum()
    for middle in (np.arange(wanted) + 0.5) / wanted:
        at = int(np.searchsorted(shares, middle))
        free = [rank for rank in range(count) if int(ranks[rank]) not in chosen]
        chosen.add(int(ranks[min(free, key=lambda rank: abs(rank - at))]))
    return tuple(Piece(inside * number, min(lead, inside * number), inside) for number in sorted(chosen))


def around(tenth: int, mix: Blocks) -> Piece:
    """A short piece about a tenth of a second, inside the mix."""
    first = max(min(tenth - 1, mix.powers.size - 1), 0)
    return Piece(first, min(SHORT_LEAD, first), AT_PEAK)


def at_peaks(found: Overshoots, mix: Blocks, chosen: Sequence[Piece]) -> tuple[Piece, ...]:
    """Short pieces where peaks are likely behind a limiter, beside those that are chosen already.

    Where the highest sample is, and where loud music swings furthest past its samples. By trial on real tracks and
    limiters: the true peak there is that of the whole, or up to 0.3 dB below it, nine times in ten.
    """
    swing = np.where(found.samples > LOUD * found.samples.max(initial=0.0), found.between, 0.0)
    swing /= np.maximum(found.samples, np.finfo(float).tiny)
    new: list[Piece] = []
    for score, wanted in ((found.samples, 1), (swing, SWINGING)):
        ranked = np.argsort(-score, kind="stable")[:wanted]
        for tenth in (int(one) for one in ranked if score[one] > 0):
            if not any(piece.holds(tenth) for piece in (*chosen, *new)):
                new.append(around(tenth, mix))
    return tuple(new)
