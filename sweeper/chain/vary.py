"""What is in doubt: the values of settings, and the order of the inserts."""

from __future__ import annotations

from dataclasses import dataclass

from sweeper.chain.amounts import kinds_for
from sweeper.chain.document import Node
from sweeper.chain.faults import KEEP_ONE, Faults
from sweeper.chain.from_dialled import KEY as FROM_DIALLED
from sweeper.chain.from_dialled import read_from_dialled
from sweeper.chain.model import FromDialled, SettingValue, Spacing, Switch, VaryAxis
from sweeper.chain.nearest import quoted
from sweeper.chain.refs import BYPASS, controls, read_ref, same_control, silenced_by
from sweeper.chain.ride_refs import BY, is_step
from sweeper.chain.sequence import Order, read_sequence
from sweeper.chain.shapes import Field, entries, fields, listed
from sweeper.chain.spans import LIST_REMEDY, read_ends, read_span
from sweeper.chain.stages import SEQUENCE, StageNames
from sweeper.chain.values import once_each, read_value


@dataclass(frozen=True)
class Varied:
    """axes: the settings varied, in the file's order. sequence: the orders of inserts to try; () = the file's own."""

    axes: tuple[VaryAxis, ...] = ()
    sequence: tuple[Order, ...] = ()


def read_vary(node: Node, names: StageNames, faults: Faults, explored: bool = False) -> Varied:
    """Everything under `vary`; one control may be varied once. explored: a range need not say its steps."""
    axes: list[VaryAxis] = []
    sequence: tuple[Order, ...] = ()
    for field in entries(node, "vary", faults):
        if field.name.casefold() == SEQUENCE:
            sequence = read_sequence(field, names, faults)
            continue
        ref = read_ref(field.name, field.mark, names, faults)
        values, between = _values(field, faults, explored)
        if ref is None:
            continue
        axis = VaryAxis(ref, values, field.mark, between)
        _check_kind(axis, field, names, faults)
        for other in axes:
            if same_control(ref, other.ref, names):
                faults.add(field.mark, f"{quoted(str(ref))} turns the same control as "
                           f"{quoted(str(other.ref))} on line {other.mark.line}", KEEP_ONE)
        axes.append(axis)
    return Varied(tuple(axes), sequence)


def _check_kind(axis: VaryAxis, field: Field, names: StageNames, faults: Faults) -> None:
    """Trims take dB, blend takes %, bypass takes on and off; a bypassed stage is not heard."""
    turned = controls(axis.ref, names)
    if BYPASS in turned and not all(isinstance(value, Switch) for value in axis.values):
        faults.add(field.value.mark, f"'{axis.ref}' takes on and off only", "write [on, off]")
    if axis.ref.ride and any(isinstance(value, FromDialled) for value in axis.values):
        faults.add(field.value.mark, f"'{axis.ref}' is an amount, and nothing dials it",
                   f"write the amounts themselves, e.g. {axis.ref}: [AMOUNT, AMOUNT]")
        return
    for kind in kinds_for(turned, bool(axis.ref.ride), axis.ref.word == BY):
        if not all(kind.allows(value) for value in axis.values):
            faults.add(field.value.mark, f"'{axis.ref}' takes {kind.takes}",
                       f"write e.g. [{', '.join(kind.examples)}]")
    silent = silenced_by(axis.ref, names)
    if silent is not None:
        faults.add(field.mark, f"'{silent.name}' is bypassed, so '{axis.ref}' changes nothing",
                   f"take this out, or 'bypass' out of '{silent.name}'")


def _values(field: Field, faults: Faults, explored: bool) -> tuple[tuple[SettingValue, ...], Spacing | None]:
    """The values of an entry, and how those between lie where it is a range in which any may be tried."""
    if field.value.pairs is not None:
        known = fields(field.value, "range", field.name, faults)
        if FROM_DIALLED in known:
            return read_from_dialled(field, known, faults), None
        if explored and "steps" not in known:
            return read_ends(field, known, faults, is_step(field.name))
        return read_span(field, known, faults, is_step(field.name)), None
    if field.value.items is None or not field.value.items:
        faults.add(field.value.mark, f"'{field.name}' needs the values to compare", LIST_REMEDY)
        return (), None
    items, step = listed(field.value, field.name, faults), is_step(field.name)
    return once_each([(item, read_value(item, field.name, faults, step)) for item in items], field.name, faults), None
