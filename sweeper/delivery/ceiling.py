"""How far a print has to come down: to its ceiling, and to what its words can hold."""

from __future__ import annotations

import enum
import math

from sweeper.audio import Word
from sweeper.chain.print_model import PrintSpec
from sweeper.delivery.orders import Ahead

#: What rounds away in two decimals is on the ceiling.
ON_IT_DB = 0.005
#: Trims are whole hundredths of a dB.
STEP_DB = 0.01
#: How far dither and rounding can take a word from its sample, in steps. Shaped: the feedback's largest, over 10 in
#: twenty seconds of silence.
REACH_STEPS = {"none": 1, "tpdf": 2, "shaped": 16}


class Over(enum.Enum):
    """What is done about a print that comes out over its ceiling."""

    TRIM = "trim"
    STOP = "stop"
    SOLVE = "solve"


def excess_db(ahead: Ahead, ceiling_dbtp: float | None) -> float:
    """By how much the true peak lies over the ceiling; 0.0 where it does not, and where there is none."""
    if ceiling_dbtp is None or ahead.true_peak_dbtp is None:
        return 0.0
    over = ahead.true_peak_dbtp - ceiling_dbtp
    return over if over > ON_IT_DB else 0.0


def trim_db(ahead: Ahead, ceiling_dbtp: float | None, spec: PrintSpec) -> float:
    """The gain, 0 or below, that brings the print under its ceiling, and lets every word hold its sample."""
    if spec.as_rendered:
        return 0.0
    over = excess_db(ahead, ceiling_dbtp)
    down = max(_hundredths(over + ON_IT_DB) if over else 0.0, _too_high_db(ahead, spec))
    return -down if down else 0.0


def _too_high_db(ahead: Ahead, spec: PrintSpec) -> float:
    """What samples lie too high by for integer words."""
    if spec.word in (None, Word.FLOAT_32) or not ahead.sample_peak:
        return 0.0
    full = spec.word.words_to_full_scale
    most = (full - 1 - REACH_STEPS[spec.dither]) / full
    over = 20 * math.log10(ahead.sample_peak / most)
    as_they_are = spec.dither == "none" and ahead.sample_peak * full <= full - 1
    return _hundredths(over) if over > 0 and not as_they_are else 0.0


def _hundredths(level_db: float) -> float:
    """Rounded up."""
    return round(math.ceil(level_db / STEP_DB - 1e-9) * STEP_DB, 2)
