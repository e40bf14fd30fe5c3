"""A target as requirements on measurements, and how a file stands against them."""

from __future__ import annotations

from dataclasses import dataclass

from sweeper.quantities import BY_KEY, Measurements
from sweeper.targets.target import Target

LOUDNESS, PEAK, SHORT_TERM = "loudness_lufs", "true_peak_dbtp", "short_term_max_lufs"
#: Digits behind the point of a bound: enough for every document, too few for the noise of binary fractions.
DIGITS = 6


@dataclass(frozen=True)
class Requirement:
    """Where one measurement has to be. lowest, highest: in its unit, both allowed; None = open on that side."""

    key: str
    lowest: float | None
    highest: float | None

    @property
    def words(self) -> str:
        """-23.2 to -22.8 LUFS, or at most -1 dBTP."""
        unit = BY_KEY[self.key].unit
        if self.lowest is None or self.highest is None:
            bound = f"at most {self.highest:g}" if self.lowest is None else f"at least {self.lowest:g}"
            return f"{bound} {unit}"
        return f"{self.lowest:g} to {self.highest:g} {unit}"


@dataclass(frozen=True)
class Held:
    """A requirement held against a measurement.

    met: None when there is nothing to judge (reason says why). outside: how far it is missed, in the unit of a
    difference: above 0 too high, below 0 too low, 0 inside.
    """

    requirement: Requirement
    value: float | None
    met: bool | None
    outside: float | None
    reason: str = ""


def requirements(target: Target) -> tuple[Requirement, ...]:
    """What the target asks of the loudness, the true peak and the loudest 3 s, in this order, where it does."""
    goal, below, above = target.loudness_lufs, target.below_lu, target.above_lu
    lowest = None if below is None else round(goal - below, DIGITS)
    highest = None if above is None else round(goal + above, DIGITS)
    asked = (Requirement(LOUDNESS, lowest, highest), Requirement(PEAK, None, target.true_peak_max_dbtp),
             Requirement(SHORT_TERM, None, target.short_term_max_lufs))  # fmt: skip
    return tuple(one for one in asked if one.lowest is not None or one.highest is not None)


def held(target: Target, measurements: Measurements) -> tuple[Held, ...]:
    """Each requirement of the target against the measurements. A value exactly on a bound meets it."""
    return tuple(_held(requirement, measurements) for requirement in requirements(target))


def gain_to_target_db(target: Target, measurements: Measurements) -> float | None:
    """The gain in dB that puts the loudness on the goal; None without a loudness. 1 LU is 1 dB: EBU R 128."""
    loudness = measurements.values.get(LOUDNESS)
    return None if loudness is None else target.loudness_lufs - loudness


def _held(requirement: Requirement, measurements: Measurements) -> Held:
    value = measurements.values.get(requirement.key)
    if value is None:
        return Held(requirement, None, None, None, measurements.reasons.get(requirement.key, "not measured"))
    over = 0.0 if requirement.highest is None else max(0.0, value - requirement.highest)
    under = 0.0 if requirement.lowest is None else min(0.0, value - requirement.lowest)
    return Held(requirement, value, over == under == 0, over + under)
