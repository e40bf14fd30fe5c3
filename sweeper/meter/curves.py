"""What a picture of a stream shows: loudness over time, how often which level, the envelope, the spectrum."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sweeper.meter import envelope, loudness, thirds
from sweeper.meter.envelope import Counts, Envelope
from sweeper.meter.gating import ABSOLUTE_GATE_POWER, OFFSET_LUFS
from sweeper.meter.grid import Doubles
from sweeper.meter.thirds import Thirds


@dataclass(frozen=True)
class Histogram:
    """counts[k]: momentary windows from lowest_lufs + k up to, not including, 1 LU more; (0,) where nothing is
    louder than -70 LUFS."""

    lowest_lufs: int
    counts: Counts


@dataclass(frozen=True)
class Curves:
    """momentary_powers, short_term_powers: (windows,), a window every 100 ms, see `loudness.over_time`.

    band_powers: (31,), mean squares at `thirds.MIDBANDS_HZ`. Powers are 0 in silence; `levels` makes levels of them.
    """

    momentary_powers: Doubles
    short_term_powers: Doubles
    histogram: Histogram
    envelope: Envelope
    band_powers: Doubles


def finish(outline: Envelope, heard: loudness.Loudness, bands: Thirds) -> Curves:
    """The curves of everything seen: three meters that have seen the same stream."""
    momentary, short_term = loudness.over_time(heard)
    return Curves(momentary, short_term, histogram(momentary), envelope.finish(outline), thirds.finish(bands))


def histogram(momentary_powers: Doubles) -> Histogram:
    """How many momentary windows lie in each LU, those above -70 LUFS; bins begin at whole LUFS.

    The windows are the blocks that integrated loudness is made of, before its relative gate.
    Source: BS.1770-5 Annex 1 for the blocks and the gate; the bins are ours.
    """
    audible = momentary_powers[momentary_powers > ABSOLUTE_GATE_POWER]
    if not audible.size:
        return Histogram(0, np.zeros(0, np.int64))
    bins = np.floor(levels(audible, OFFSET_LUFS)).astype(np.int64)
    lowest = int(bins.min())
    return Histogram(lowest, np.bincount(bins - lowest).astype(np.int64))


def levels(powers: Doubles, offset_db: float = 0.0, least_db: float = -200.0) -> Doubles:
    """10 log10 of each power in dB plus `offset_db`; what is lower, silence too, reads `least_db`."""
    least = 10.0 ** ((least_db - offset_db) / 10.0)
    return np.asarray(10.0 * np.log10(np.maximum(powers, least)) + offset_db)
