"""Level-match: the gains that make variants equally loud, so that louder does not pass for better."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Leveled:
    """One file to match. loudness_lufs: over the sections that are matched. true_peak_dbtp: of the whole."""

    loudness_lufs: float | None
    true_peak_dbtp: float | None


def match_gains_db(files: Sequence[Leveled]) -> tuple[float | None, ...]:
    """The gain in dB for each file, to the loudness of the quietest, lower still until no peak passes 0 dBTP.

    None for a file without a loudness (silence). Adding the gain to the file's loudness gives one level for
    all of them.
    """
    loud = [(f.loudness_lufs, f.true_peak_dbtp) for f in files if f.loudness_lufs is not None]
    if not loud:
        return tuple(None for _ in files)
    level = min(loudness for loudness, _ in loud)
    room = min((-(level - loudness + peak) for loudness, peak in loud if peak is not None), default=0.0)
    level += min(0.0, room)
    return tuple(None if f.loudness_lufs is None else level - f.loudness_lufs for f in files)
