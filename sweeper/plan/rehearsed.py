"""Which reaches excerpts of the mix are played for, before a full render."""

from __future__ import annotations

from sweeper.chain.model import Chain
from sweeper.plan.looks import is_inside

#: What excerpts can foretell of the whole; what is found inside the stages comes to it.
FORETOLD = frozenset({"loudness_lufs", "true_peak_dbtp", "sample_peak_dbfs", "rms_dbfs", "crest_db", "plr_db"})
#: The shortest mix that excerpts stand for: see `meter/excerpts.py`.
LEAST_S = 58.0


def is_rehearsed(chain: Chain, mix_s: float) -> bool:
    """Whether the reaches of a chain are tried on excerpts of a mix that lasts so long.

    Not where settings move in time, as excerpts are joined, nor where a goal is none that excerpts can foretell.
    """
    keys = {key for reach in chain.reach for key in (reach.key, *(condition.key for condition in reach.stop_at))}
    return bool(keys) and all(map(can_foretell, keys)) and not chain.rides and mix_s >= LEAST_S


def can_foretell(key: str) -> bool:
    """Whether excerpts tell of a measurement what a full render would."""
    return key in FORETOLD or is_inside(key)
