"""How a plugin stands in its stage: how much of it is heard and which way round, its delay, its tail, its instances."""

from __future__ import annotations

import math
from collections.abc import Mapping

from sweeper.chain.faults import Faults
from sweeper.chain.lengths import read_length_s
from sweeper.chain.model import Mark, Number, Stage
from sweeper.chain.nearest import quoted
from sweeper.chain.shapes import Field, single
from sweeper.units import parse_amount, same_unit

#: Ours, not tried otherwise: beyond these only a slip of the keyboard asks.
LONGEST_LATENCY_MS = 10_000.0
MOST_SAMPLES = 1_920_000  # ten seconds at 192 kHz
LONGEST_TAIL_S = 60.0
LATENCY_EXAMPLE = "write e.g. 512 samples or 10 ms, up to 10 s"


def read_blend(field: Field, faults: Faults) -> float:
    """The plugin's share of the sound, 0.0 to 1.0; 1.0 with a fault when it is none."""
    remedy = "write 0 % to 100 %, e.g. 70 %"
    text = single(field.value, "blend", faults, remedy)
    amount = parse_amount(text) if text is not None else None
    if text is not None and (amount is None or amount.unit != "%" or not 0 <= amount.value <= 100):
        faults.add(field.value.mark, f"blend is {quoted(text)}", remedy)
        return 1.0
    return amount.value / 100 if amount is not None else 1.0


def read_latency(field: Field, faults: Faults) -> Number | None:
    """The plugin's true delay, in "samples" or "ms"; None with a fault when it is none."""
    text = single(field.value, "latency", faults, LATENCY_EXAMPLE)
    if text is None:
        return None
    found = latency_in(text)
    if found is None:
        faults.add(field.value.mark, f"latency is {quoted(text)}", LATENCY_EXAMPLE)
    return found


def latency_in(text: str) -> Number | None:
    """A delay as a text says it, in "samples" or "ms"; None where it says none."""
    amount = parse_amount(text)
    if amount is not None and amount.unit == "frames":
        if amount.value.is_integer() and 0 <= amount.value <= MOST_SAMPLES:
            return Number(amount.value, "samples", text)
    elif amount is not None and amount.unit:
        value_ms = same_unit(amount, "ms")
        if value_ms is not None and math.isfinite(value_ms) and 0 <= value_ms <= LONGEST_LATENCY_MS:
            return Number(value_ms, "ms", text)
    return None


def read_inverted(field: Field, faults: Faults) -> bool:
    """Whether the polarity is turned round; False with a fault when it does not say."""
    remedy = "write inverted, or take it out"
    text = single(field.value, "polarity", faults, remedy)
    if text is not None and text.casefold() not in ("inverted", "normal"):
        faults.add(field.value.mark, f"polarity is {quoted(text)}", remedy)
    return text is not None and text.casefold() == "inverted"


def read_tail_s(field: Field, faults: Faults) -> float:
    """How much longer the sound gets, in seconds; 0 with a fault when it is none."""
    return read_length_s(field.value, "tail", LONGEST_TAIL_S, faults) or 0.0


def read_instances(field: Field, faults: Faults) -> int:
    """1, the only number that a plugin may be held to; 0 with a fault when it is another."""
    remedy = "write 1, or take it out: any number may be loaded"
    text = single(field.value, "instances", faults, remedy)
    if text is not None and text != "1":
        faults.add(field.value.mark, f"instances is {quoted(text)}", remedy)
    return 1 if text == "1" else 0


def check_instances(known: Mapping[str, Field], stage: Stage, mark: Mark, faults: Faults) -> None:
    """A stage that may have one instance only cannot hear two sides apart. mark: of the processor."""
    if stage.instances and len(stage.channels.sides) > 1:
        beside = known.get("instances") or known.get("channels")
        faults.add(beside.mark if beside else mark,
                   f"'instances: 1' allows one instance, and channels {stage.channels.value} needs two",
                   "take one of the two out")
