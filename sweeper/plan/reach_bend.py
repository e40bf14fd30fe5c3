"""How loudness bends when a limiter is driven: out = in - k ln(1 + exp(in / k)), a knee of k dB.

In front of the knee a decibel of drive is a decibel of loudness; the further up, the more of it is lost. Our own choice
of curve: the simplest with both ends straight; on models and real limiters it saves a pass over the straight line.
"""

from __future__ import annotations

import math

#: How gently a limiter bends, in dB, where passes have not shown it; and the least and most that is believed.
KNEE_DB, KNEES_DB = 1.7, (0.3, 12.0)


def drive_for(gain_db: float, lost_db: float, knee_db: float) -> float:
    """The drive, in dB, that makes it louder by `gain_db` where `lost_db` is lost already; inf: none does."""
    bent = math.expm1(max(lost_db, 0.0) / knee_db)
    wanted = math.exp(gain_db / knee_db)
    left = 1 + bent - wanted * bent
    return knee_db * math.log(wanted / left) if left > 0 else math.inf


def knee_of(run_db: float, gained_db: float, lost_db: float) -> float:
    """The knee, in dB, by which `run_db` more drive gained `gained_db` and ended with `lost_db` lost in all."""
    least, most = KNEES_DB
    if gained_db <= 0:
        return least
    before_db = lost_db - run_db + gained_db
    for _ in range(30):
        middle = math.sqrt(least * most)
        least, most = (middle, most) if drive_for(gained_db, before_db, middle) > run_db else (least, middle)
    return most


def slope_after(lost_db: float, knee_db: float = KNEE_DB) -> float:
    """What one more dB of drive gains where `lost_db` is lost already."""
    return math.exp(-max(lost_db, 0.0) / knee_db)
