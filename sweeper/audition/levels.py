"""At what gain each sound is as loud as the others: over the whole, the run's own sections, or others."""

from __future__ import annotations

from collections.abc import Sequence

from sweeper.audition.heard import Found, Kind
from sweeper.audition.look import Look, loudness_of
from sweeper.chain.model import Section
from sweeper.errors import RunFolderError
from sweeper.plan.sections import match_name
from sweeper.quantities import Measurements
from sweeper.verdict import Leveled, match_gains_db


def gains_db(sounds: Sequence[Found], looks: Sequence[Look], sections: Sequence[Section],
             own: Sequence[str], wanted: Sequence[str]) -> list[float]:  # fmt: skip
    """The gain of each, as a run matches its variants: to the quietest, lower still until no peak passes 0 dBTP.

    own: the sections that the run matches over; wanted: others that were asked for instead. A reference has neither:
    it is matched by the whole of it. A sound without a loudness (silence) stays as it is.
    """
    levels = [_leveled(sound, look, sections, own, wanted) for sound, look in zip(sounds, looks, strict=True)]
    return [0.0 if gain is None else gain for gain in match_gains_db(levels)]


def check_sections(wanted: Sequence[str], sections: Sequence[Section], mix: str) -> None:
    """Raises RunFolderError for a section that the mix has not."""
    names = [section.name for section in sections]
    for name in wanted:
        if name not in names:
            there = ", ".join(names) if names else "none: the chain file names no sections"
            raise RunFolderError(f"{mix} has no section '{name}' to match over", f"its sections: {there}")


def _leveled(sound: Found, look: Look, sections: Sequence[Section], own: Sequence[str],
             wanted: Sequence[str]) -> Leveled:  # fmt: skip
    measured: Measurements = sound.measurements or look.measured
    loudness_lufs = measured["loudness_lufs"]
    if sound.kind is not Kind.REFERENCE and (wanted or own):
        in_run = None if wanted else measured.sections.get(match_name(own))
        stretches = [(one.start_s, one.end_s) for one in sections if one.name in (wanted or own)]
        loudness_lufs = in_run["loudness_lufs"] if in_run else loudness_of(look.power_100ms, stretches)
    return Leveled(loudness_lufs, look.measured["true_peak_dbtp"])
