"""What can be reached: the quantities, how far a goal can lie, and how closely it is met."""

from __future__ import annotations

import re

from sweeper.chain.document import Node
from sweeper.chain.faults import Faults
from sweeper.chain.named_targets import names_target, read_target, target_within
from sweeper.chain.nearest import quoted
from sweeper.chain.shapes import Field, folded, single
from sweeper.chain.values import amount_in
from sweeper.quantities import Quantity, named_quantity
from sweeper.units import plain

#: Quantity -> the lowest and highest goal that can be meant, in its unit. Common practice, no source.
GOALS: dict[str, tuple[float, float]] = {
    "loudness_lufs": (-60, 0), "momentary_max_lufs": (-60, 6), "short_term_max_lufs": (-60, 3),
    "loudness_range_lu": (0, 40), "true_peak_dbtp": (-60, 6), "sample_peak_dbfs": (-60, 6), "crest_db": (0, 40),
    "rms_dbfs": (-80, 0), "plr_db": (0, 40), "correlation": (-1, 1), "side_mid_db": (-80, 40), "balance_db": (-20, 20),
    "mono_loss_lu": (0, 20), "psr_db": (0, 40), "crest_loud_db": (0, 40), "correlation_worst": (-1, 1),
    "tilt_db": (-6, 3), "noise_floor_dbfs": (-144, 0), "attenuation_db": (0, 40), "attenuation_median_db": (0, 40),
    "attenuation_most_db": (0, 40), "attenuation_share_pct": (0, 100), "residue_db": (-140, 0),
    "distortion_pct": (0, 100), "second_harmonic_db": (-140, 0), "third_harmonic_db": (-140, 0),
}  # fmt: skip
#: Those that may be capped ("at most"), and the one that is only ever capped.
CAPPED, ONLY_CAPPED = ("true_peak_dbtp", "sample_peak_dbfs"), "true_peak_dbtp"
LEAST_WITHIN = 0.01
AT_MOST = re.compile(r"at\s+most\s+(.+)", re.IGNORECASE)


def names_quantity(name: str) -> bool:
    """Whether a key is a measurement's name, of the whole or of one stage."""
    return named_quantity(folded(plain(name))) is not None


def usual_within(quantity: Quantity, aim: float) -> float:
    """How close is close enough, where nobody says. Ours, not tried otherwise."""
    if quantity.unit != "%":
        return 0.1 if quantity.difference_unit else 0.02
    return 1.0 if quantity.key.endswith("share_pct") else max(LEAST_WITHIN, aim / 20)


def goals_of(quantity: Quantity) -> tuple[float, float] | None:
    """The lowest and highest goal that can be meant, in its unit; None for what cannot be landed on."""
    return GOALS.get(quantity.key.rpartition(".")[2])


def is_capped(node: Node) -> bool:
    """Whether a goal is written as a ceiling."""
    return AT_MOST.fullmatch((node.text or "").strip()) is not None


def read_goal(goal: Field, quantity: Quantity, faults: Faults) -> float | None:
    """The goal in the quantity's unit, "at most" taken off; None with a fault when it is none that can be meant."""
    text = single(goal.value, goal.name, faults)
    if text is None:
        return None
    if names_target(text, quantity):
        target = read_target(text, goal.value.mark, faults)
        return None if target is None else target.loudness_lufs
    ceiling = AT_MOST.fullmatch(text)
    if ceiling is None and quantity.key == ONLY_CAPPED:
        faults.add(goal.value.mark, f"true peak is {quoted(text)}, which is no ceiling", "write e.g. at most -1 dBTP")
        return None
    if ceiling is not None and quantity.key not in CAPPED:
        faults.add(goal.value.mark, f"{goal.name} is {quoted(text)}: it is landed on, not capped",
                   f"write {ceiling[1]} alone, or put '{goal.name} <= {ceiling[1]}' under 'limits'")
        return None
    value = amount_in(ceiling[1] if ceiling else text, goal.value, goal.name, quantity.unit, faults)
    meant = goals_of(quantity)
    if value is None or meant is None:
        return None
    lowest, highest = meant
    if not lowest <= value <= highest:
        what = f"{goal.name} of {value:g} {quantity.unit}".strip()
        faults.add(goal.value.mark, f"{what} cannot be meant",
                   f"write {lowest:g} {quantity.unit}".rstrip() + f" to {highest:g} {quantity.unit}".rstrip())
        return None
    return value


def read_within(field: Field | None, goal: Field, quantity: Quantity, aim: float | None, faults: Faults) -> float:
    """How far off counts as reached. aim: the goal, in the quantity's unit.

    Left out: a named target's tolerance, 0.1, 0.02 of a pure number, 1 % of the time, a twentieth of a distortion.
    """
    usual = target_within(goal.value, quantity) or usual_within(quantity, aim or 0.0)
    text = single(field.value, "within", faults) if field else None
    if field is None or text is None:
        return usual
    unit = quantity.difference_unit
    if unit in ("dB", "LU"):  # 1 LU is 1 dB: EBU R 128
        text = re.sub(r"(?<=[\d.,\s])(dB|LU)$", unit, plain(text), flags=re.IGNORECASE)
    value = amount_in(text, field.value, "within", unit, faults)
    if value is not None and value < LEAST_WITHIN:
        faults.add(field.value.mark, f"within {value:g} {unit}".rstrip() + " is finer than can be reached",
                   f"write {LEAST_WITHIN:g} {unit}".rstrip() + " or more")
    return usual if value is None else value
