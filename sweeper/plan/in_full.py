"""Of what is tried on excerpts: how many of the best are rendered in full."""

from __future__ import annotations

from sweeper.chain.model import Chain

#: Of each mix so many times what is kept, so that near-duplicates and a place or two in the order cost nothing; and at
#: least so many, so that the order on excerpts can be held against that of the whole. Ours.
TIMES_KEPT, LEAST = 2, 6


def in_full(chain: Chain, tried: int) -> int:
    """How many variants of a mix are rendered when so many are tried: all, but where excerpts are listened to."""
    if chain.explore is None or not chain.explore.excerpts:
        return tried
    return min(tried, max(LEAST, TIMES_KEPT * (chain.keep or 0)))
