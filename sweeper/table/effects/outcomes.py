"""What is told of the variants of a run: measurements, and where solved settings went."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from sweeper.plan.reach_terms import Ending
from sweeper.quantities import Quantity, find_quantity
from sweeper.table.row import COARSE_UNITS, Row
from sweeper.units import folded

#: What masters are told apart by in this order, loudness where it is not equal; then the inside of the chain, then
#: solved settings.
USUAL = ("loudness_lufs", "crest_db", "crest_loud_db", "psr_db", "plr_db", "loudness_range_lu", "tilt_db",
         "side_mid_db", "correlation")  # fmt: skip
OF_THE_CHAIN = ("attenuation_db", "residue_db", "distortion_pct")
#: What varies by less than so many of its last decimals does not vary.
LEAST_STEPS = 2
#: One follows from the others once these are set.
PEAK_OVER_LOUDNESS, LOUDNESS_AND_PEAK = "plr_db", frozenset({"loudness_lufs", "true_peak_dbtp"})


@dataclass(frozen=True)
class Outcome:
    """Something that is told of every variant. values: None where it does not exist. solved: a setting that was solved.

    unit: of the values; difference_unit: of how much they differ.
    """

    key: str
    name: str
    unit: str
    difference_unit: str
    decimals: int
    values: tuple[float | None, ...]
    solved: bool = False

    @property
    def known(self) -> tuple[float, ...]:
        """The values that exist."""
        return tuple(value for value in self.values if value is not None)

    @property
    def spread(self) -> float:
        """From the lowest to the highest; 0.0 where there are none."""
        return max(self.known) - min(self.known) if self.known else 0.0

    @property
    def varies(self) -> bool:
        """Whether that is more than what is shown of it."""
        return self.spread >= LEAST_STEPS * 10.0**-self.decimals - 1e-12


def all_outcomes(rows: Sequence[Row]) -> tuple[Outcome, ...]:
    """Everything told of these rows, which were rendered: the measurements, then the solved settings."""
    keys = dict.fromkeys(key for row in rows if row.measurements for key in row.measurements.values)
    return (*(_measured(quantity, rows) for key in keys if (quantity := find_quantity(key))), *_solved(rows))


def usual_outcomes(rows: Sequence[Row]) -> tuple[tuple[Outcome, ...], tuple[tuple[str, str], ...]]:
    """Those that are shown unasked, and the names of those that would be, with why they are not."""
    found = {outcome.key: outcome for outcome in all_outcomes(rows)}
    stages = [key for key in found if key.rpartition(".")[0] and key.rpartition(".")[2] in OF_THE_CHAIN]
    solved = [key for key, outcome in found.items() if outcome.solved]
    shown, left_out = [], []
    for key in [*USUAL, *OF_THE_CHAIN, *stages, *solved]:
        if key in found:
            why = _why_not(found[key], rows)
            shown += [] if why else [found[key]]
            left_out += [(found[key].name, why)] if why else []
    return tuple(shown), tuple(left_out)


def named_outcome(name: str, found: Sequence[Outcome]) -> Outcome | None:
    """The one that a name or key means, case and spaces forgiven; None = there is none of it."""
    return next((one for one in found if folded(name) in (folded(one.name), folded(one.key))), None)


def _why_not(outcome: Outcome, rows: Sequence[Row]) -> str:
    """Why it is not shown unasked; "" for what is."""
    missed = {one.key for row in rows for one in row.solved if one.ending is not Ending.ON_TARGET}
    reached = {one.key for row in rows for one in row.solved} - missed
    missing = len(outcome.values) - len(outcome.known)
    if outcome.key in reached:
        return "is what is reached"
    if outcome.key == PEAK_OVER_LOUDNESS and reached >= LOUDNESS_AND_PEAK:
        return "is set by what is reached"
    if not outcome.known:
        return "exists in no variant"
    if not outcome.solved and missing and outcome.key not in USUAL:
        return f"was found of {len(outcome.known)} of {len(outcome.values)} variants only"
    if not outcome.varies:
        return f"does not vary ({outcome.spread:.{outcome.decimals}f} {outcome.difference_unit}".rstrip() + ")"
    return ""


def _measured(quantity: Quantity, rows: Sequence[Row]) -> Outcome:
    values = (row.measurements.values.get(quantity.key) if row.measurements else None for row in rows)
    return Outcome(quantity.key, quantity.name, quantity.unit, quantity.difference_unit, quantity.decimals,
                   tuple(values))  # fmt: skip


def _solved(rows: Sequence[Row]) -> list[Outcome]:
    """Where each solved setting went; one for each unit, as alternatives have units of their own."""
    kinds = dict.fromkeys((setting, one.unit) for row in rows for setting, one in row.solved_as.items())
    found = []
    for setting, unit in kinds:
        alone = sum(other == setting for other, _ in kinds) == 1
        name = setting if alone else f"{setting} in {unit or 'numbers'}"
        at = partial(_solved_at, setting=setting, unit=unit)
        decimals = 4 if unit in COARSE_UNITS else 2
        found.append(Outcome(name, name, unit, unit, decimals, tuple(map(at, rows)), solved=True))
    return found


def _solved_at(row: Row, setting: str, unit: str) -> float | None:
    one = row.solved_as.get(setting)
    return one.at if one is not None and one.unit == unit else None
