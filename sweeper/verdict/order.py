"""What an order is worth: preferences that the reaches fix already, and variants that hardly differ."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from sweeper.chain.model import Chain, Condition, Preference
from sweeper.chain.own_chain import each_chain
from sweeper.quantities import quantity_of
from sweeper.verdict.rank import Candidate

#: A difference below this is heard by nobody: in dB, LU and ms, for pure numbers, in per cent of distortion. Common
#: practice, no source.
LEAST_DIFFERENCE = {"dB": 0.3, "LU": 0.3, "ms": 0.05, "": 0.02, "%": 0.05}
LOUDNESS, PEAKS = "loudness_lufs", ("true_peak_dbtp", "sample_peak_dbfs")
#: A peak over a mean level: little is left of them once loudness and peak are set.
PEAK_OVER_MEAN = ("crest_db", "plr_db")


def nearly_fixed(chain: Chain) -> tuple[str, ...]:
    """A warning, in words, for every preference that the chain's reaches and limits leave little room.

    A reach that may stop before its goal fixes nothing. What holds by the limits of some mixes only names these.
    """
    reached = [reach.key for reach in chain.reach if not reach.stop_at]
    of_each = [fixed_preferences(reached, one.limits, chain.prefer) for one in each_chain(chain)]
    found = []
    for words in dict.fromkeys(words for each in of_each for words in each):
        having = [mix.written for mix, each in zip(chain.mixes, of_each, strict=True) if words in each]
        found.append(words if len(having) == len(of_each) else f"{', '.join(having)}: {words}")
    return tuple(found)


def fixed_preferences(reached: Collection[str], limits: Sequence[Condition],
                      prefer: Sequence[Preference]) -> tuple[str, ...]:  # fmt: skip
    """The same from its parts. reached: the keys of what is solved for."""
    capped = {limit.key for limit in limits if limit.relation == "<="}
    peak = next((key for key in PEAKS if key in reached or key in capped), None)
    warnings = []
    for key in (wish.key for wish in prefer):
        name = quantity_of(key).name
        if key in reached:
            warnings.append(f"{name} is what is reached: an order by it says little")
        elif key in PEAK_OVER_MEAN and LOUDNESS in reached and peak is not None:
            warnings.append(f"{name} is nearly fixed once loudness and {quantity_of(peak).name} are: "
                            f"an order by it says little")  # fmt: skip
    return tuple(warnings)


def hardly_differ(candidates: Sequence[Candidate], prefer: Sequence[Preference]) -> str | None:
    """Words when those that fit hardly differ in what is preferred first, or have none of it; None when the order says
    something."""
    if not prefer:
        return None
    quantity = quantity_of(prefer[0].key)
    fitting = [c for c in candidates if c.fits]
    values = [value for c in fitting if (value := c.values.get(quantity.key)) is not None]
    if fitting and not values:
        return f"no variant has a value of {quantity.name}: the order says nothing"
    spread = max(values) - min(values) if len(values) > 1 else None
    if spread is None or spread >= LEAST_DIFFERENCE[quantity.difference_unit]:
        return None
    if round(spread, 2) == 0:
        return f"the variants do not differ in {quantity.name}: the order says nothing"
    amount = f"{spread:.2f} {quantity.difference_unit}".strip()
    return f"the variants differ by only {amount} of {quantity.name}: the order says little"
