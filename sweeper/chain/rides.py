"""`rides`: settings that move in some stretches of the music."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from sweeper.chain.amounts import kinds_for
from sweeper.chain.document import Node
from sweeper.chain.faults import KEEP_ONE, Faults
from sweeper.chain.lengths import read_length_s
from sweeper.chain.model import Mark, Mix, Ride, SettingRef, SettingValue
from sweeper.chain.nearest import quoted
from sweeper.chain.refs import BYPASS, controls, read_ref, silenced_by
from sweeper.chain.ride_refs import BY, TO
from sweeper.chain.ride_times import check_against, check_apart, read_stretches
from sweeper.chain.shapes import Field, fields, folded, listed, single
from sweeper.chain.stages import RIDES, StageNames
from sweeper.chain.values import read_value

#: Ours, not tried otherwise: short beside a beat.
USUAL_RAMP_S = 0.05
#: Ours, not tried otherwise.
LONGEST_RAMP_S = 30.0
EXAMPLE = "write e.g. {name: last-lift, set: colour.drive, by: 5 % travel, in: [last chorus]}"


def read_rides(node: Node, names: StageNames, mixes: tuple[Mix, ...], faults: Faults) -> StageNames:
    """The names with those of every ride; a faulty ride's name stays known."""
    found: dict[str, Ride | None] = {}
    marks: dict[str, Mark] = {}
    complete = True
    for item in listed(node, RIDES, faults):
        if item.pairs is None:
            faults.add(item.mark, f"a ride is {item.kind}, not a mapping", EXAMPLE)
            complete = False
            continue
        known = fields(item, "ride", "a ride", faults)
        name, mark = _name(item, known, faults)
        complete = complete and bool(name)
        ride = _ride(name, mark, item, known, names, mixes, faults)
        if name and folded(name) in found:
            faults.add(mark, f"two rides are called {quoted(name)}; first on line {marks[folded(name)].line}",
                       "give one of them another 'name:'")
        elif name:
            if ride is not None:
                check_against(ride, [each for each in found.values() if each is not None], names, mixes, faults)
            found[folded(name)], marks[folded(name)] = ride, mark
    return replace(names, rides=found, rides_complete=complete)


def _name(node: Node, known: Mapping[str, Field], faults: Faults) -> tuple[str, Mark]:
    if "name" not in known:
        faults.add(node.mark, "this ride has no name", "add e.g. name: last-lift")
        return "", node.mark
    mark = known["name"].value.mark
    name = single(known["name"].value, "name", faults) or ""
    if "." in name:
        faults.add(mark, f"the ride's name {quoted(name)} has a dot in it", "write it without dots")
    return name, mark


def _ride(
    name: str, mark: Mark, node: Node, known: Mapping[str, Field], names: StageNames, mixes: tuple[Mix, ...],
    faults: Faults,
) -> Ride | None:  # fmt: skip
    ref = _set(node, known.get("set"), names, faults)
    word = _word(node, known, faults)
    amount = _amount(known[word], ref, names, faults) if word else None
    ramp_s = read_length_s(known["ramp"].value, "ramp", LONGEST_RAMP_S, faults) if "ramp" in known else USUAL_RAMP_S
    stretches = read_stretches(node, known.get("in"), mixes, faults)
    if ref is None or amount is None or ramp_s is None or stretches is None:
        return None
    ride = Ride(name, ref, amount, word == BY, *stretches, ramp_s, mark)
    return ride if check_apart(ride, known["in"].mark, mixes, faults) else None


def _set(node: Node, field: Field | None, names: StageNames, faults: Faults) -> SettingRef | None:
    """What moves: heard, and no switch."""
    if field is None:
        faults.add(node.mark, "this ride names no setting", "add e.g. set: colour.drive")
        return None
    text = single(field.value, "set", faults, "write one setting, e.g. colour.drive")
    if text is None:
        return None
    if folded(text.partition(".")[0]) == RIDES:
        faults.add(field.value.mark, f"{quoted(text)} is a ride, and a ride moves a setting of a stage",
                   "write STAGE.SETTING, e.g. colour.drive")
        return None
    ref = read_ref(text, field.value.mark, names, faults)
    if ref is None:
        return None
    if BYPASS in controls(ref, names):
        faults.add(field.value.mark, "bypass is on or off, nothing to ride", "name a setting with a range")
        return None
    silent = silenced_by(ref, names)
    if silent is not None:
        faults.add(field.value.mark, f"'{silent.name}' is bypassed, so '{ref}' changes nothing",
                   f"take 'bypass' out of '{silent.name}', or take the ride out")
        return None
    return ref


def _word(node: Node, known: Mapping[str, Field], faults: Faults) -> str:
    """Which of `by` and `to` it has; "" with a fault when it is neither."""
    if BY in known and TO in known:
        later = max(known[BY], known[TO], key=lambda field: (field.mark.line, field.mark.column))
        faults.add(later.mark, f"'{BY}' and '{TO}' both stand in this ride", KEEP_ONE)
        return ""
    if BY not in known and TO not in known:
        faults.add(node.mark, "this ride does not say how far", f"add e.g. {BY}: 5 % travel, or {TO}: VALUE")
    return BY if BY in known else TO if TO in known else ""


def _amount(field: Field, ref: SettingRef | None, names: StageNames, faults: Faults) -> SettingValue | None:
    """How far it goes, in what the setting takes."""
    value = read_value(field.value, field.name, faults, step=field.name == BY)
    if value is None:
        return None
    if ref is None:
        return value
    turned = controls(ref, names)
    for kind in kinds_for(turned, True, field.name == BY):
        if not kind.allows(value):
            faults.add(field.value.mark, f"'{field.name}' is {quoted(value.text)}, and '{ref}' takes {kind.takes}",
                       f"write e.g. {kind.examples[1]}")
            return None
    return value
