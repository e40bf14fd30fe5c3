"""Names of a ride's amount: rides.last-lift.by."""

from __future__ import annotations

from sweeper.chain.faults import Faults
from sweeper.chain.model import Mark, SettingRef
from sweeper.chain.nearest import nearest, quoted
from sweeper.chain.shapes import folded
from sweeper.chain.stages import RIDES, StageNames

BY, TO = "by", "to"


def read_ride_ref(text: str, mark: Mark, names: StageNames, faults: Faults) -> SettingRef | None:
    """The amount meant, as a reference to what the ride moves; None with a fault when there is no such ride."""
    _, _, rest = text.partition(".")
    name, dot, word = rest.rpartition(".")
    word = folded(word)
    if not dot or not name.strip() or word not in (BY, TO):
        faults.add(mark, f"{quoted(text)} does not name the amount of a ride",
                   f"write {RIDES}.NAME.{BY} or {RIDES}.NAME.{TO}, as the ride has it")
        return None
    if folded(name) not in names.rides:
        if names.rides_complete:
            _add_unknown(name.strip(), word, mark, names, faults)
        return None
    ride = names.rides[folded(name)]
    if ride is None:
        return None
    has = BY if ride.relative else TO
    if word != has:
        faults.add(mark, f"the ride {quoted(ride.name)} has '{has}', not '{word}'",
                   f"write {RIDES}.{ride.name}.{has}")
        return None
    return SettingRef(ride.ref.stage, ride.ref.setting, ride.ref.side, ride.name, has)


def is_step(text: str) -> bool:
    """Whether a reference names a relative amount, so that it takes steps of either sign."""
    first, _, rest = text.partition(".")
    return folded(first) == RIDES and folded(rest.rpartition(".")[2]) == BY


def _add_unknown(name: str, word: str, mark: Mark, names: StageNames, faults: Faults) -> None:
    spelt = [ride.name if ride is not None else key for key, ride in names.rides.items()]
    near, known = nearest(name, spelt), ", ".join(spelt) or "none"
    faults.add(mark, f"no ride is called {quoted(name)}",
               f"did you mean '{RIDES}.{near}.{word}'?" if near else f"rides here: {known}")
