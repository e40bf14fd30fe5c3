"""What a chain file may ask for where an exploration listens to excerpts only, and its faults."""

from __future__ import annotations

from collections.abc import Iterator

from sweeper.chain.faults import Faults
from sweeper.chain.model import Chain, Mark
from sweeper.chain.shapes import Field
from sweeper.quantities import find_quantity

#: What excerpts cannot tell: it happens in single places, which they may miss, or is counted over the whole.
UNTOLD = frozenset({"overs", "over_runs", "longest_over_ms", "noise_floor_dbfs"})
WHOLE = "write `listen to: whole`"


def refuse_untold(field: Field, chain: Chain, faults: Faults) -> None:
    """Faults for all that excerpts cannot tell, where they are listened to. field: `explore`."""
    if chain.explore is None or not chain.explore.excerpts:
        return
    if chain.rides:
        faults.add(field.mark, "excerpts cannot follow 'rides': they are parts of the mix, joined", WHOLE)
    sent = next((stage.name for stage in chain.stages if any(choice.outside for choice in stage.choices)), "")
    if sent:
        faults.add(field.mark, f"excerpts cannot be sent out: '{sent}' stands outside and gets the whole mix", WHOLE)
    for mark, place, key in _asked(chain):
        quantity = find_quantity(key)
        if key in UNTOLD and quantity is not None:
            faults.add(mark, f"excerpts do not tell {quantity.name}, which '{place}' asks for",
                       f"take it out, or {WHOLE} in 'explore'")  # fmt: skip


def _asked(chain: Chain) -> Iterator[tuple[Mark, str, str]]:
    """Every measurement that is asked for: where, under which key of the chain file, and which."""
    for reach in chain.reach:
        yield reach.mark, "reach", reach.key
        yield from ((bound.mark, "stop at", bound.key) for bound in reach.stop_at)
    yield from ((limit.mark, "limits", limit.key) for limit in chain.limits)
    yield from ((limit.mark, "limits", limit.key) for mix in chain.mixes for limit in mix.limits)
    yield from ((wish.mark, "prefer", wish.key) for wish in chain.prefer)
