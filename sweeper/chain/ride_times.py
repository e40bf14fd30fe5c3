"""When rides move: the stretches of each, and that they keep out of each other's way."""

from __future__ import annotations

import itertools

from sweeper.chain.document import Node
from sweeper.chain.faults import KEEP_ONE, Faults
from sweeper.chain.mixes import check_section, parse_span_s
from sweeper.chain.model import Mark, Mix, Ride
from sweeper.chain.nearest import quoted
from sweeper.chain.refs import same_control
from sweeper.chain.shapes import Field, listed, single
from sweeper.chain.stages import StageNames
from sweeper.units import clock

EXAMPLE = 'write e.g. in: [last chorus] or in: ["1:00-1:20"]'
Span = tuple[float, float]


def read_stretches(
    node: Node, field: Field | None, mixes: tuple[Mix, ...], faults: Faults
) -> tuple[tuple[str, ...], tuple[Span, ...]] | None:
    """Names of sections, which every mix must have, and stretches in seconds; None with a fault when one is none.

    node: the ride, field: its `in`.
    """
    items = listed(field.value, "in", faults) if field else ()
    if not items:
        faults.add(field.mark if field else node.mark, "this ride does not say when", f"add where it moves; {EXAMPLE}")
        return None
    sections: list[str] = []
    spans: list[Span] = []
    good = True
    for item in items:
        found = _stretch(item, mixes, faults)
        if found is None:
            good = False
        elif found in sections or found in spans:
            faults.add(item.mark, f"{quoted(item.text or '')} stands twice", KEEP_ONE)
            good = False
        elif isinstance(found, str):
            sections.append(found)
        else:
            spans.append(found)
    return (tuple(sections), tuple(spans)) if good else None


def _stretch(item: Node, mixes: tuple[Mix, ...], faults: Faults) -> str | Span | None:
    text = single(item, "an entry of 'in'", faults, EXAMPLE)
    if text is None:
        return None
    named = any(section.name == text for mix in mixes for section in mix.sections)
    span = None if named else parse_span_s(text)
    if span is None:
        remedy = "add it there: a ride moves in every mix"
        return text if check_section(text, item.mark, mixes, remedy, faults) else None
    if span[1] <= span[0]:
        faults.add(item.mark, f"the stretch {quoted(text)} ends at or before its start", "write the earlier time first")
        return None
    return span


def check_apart(ride: Ride, mark: Mark, mixes: tuple[Mix, ...], faults: Faults) -> bool:
    """Whether no two stretches of a ride meet, ramps included, in any mix. mark: of its `in`."""
    for mix in mixes:
        spans = spans_in(ride, mix)
        for (_, end_s), (start_s, _) in itertools.pairwise(spans):
            if start_s - ride.ramp_s <= end_s + ride.ramp_s:
                ramps = ", ramps included" if start_s > end_s else ""
                faults.add(mark, f"two stretches of {quoted(ride.name)} meet: one ends at {clock(end_s)}, "
                           f"another begins at {clock(start_s)}{ramps}",
                           "make one stretch of them" + (", or the ramp shorter" if ramps else ""))
                return False
    return True


def check_against(
    ride: Ride, others: list[Ride], names: StageNames, mixes: tuple[Mix, ...], faults: Faults
) -> None:
    """A control can be in one place only: two rides that say where it goes must not be under way at once."""
    for other in others:
        if ride.relative or other.relative or not same_control(ride.ref, other.ref, names):
            continue
        if _at_once(ride, other, mixes):
            faults.add(ride.mark, f"{quoted(ride.name)} and {quoted(other.name)} on line {other.mark.line} both say "
                       f"where '{ride.ref}' goes at the same time", "write 'by' in one of them, or other stretches")


def _at_once(ride: Ride, other: Ride, mixes: tuple[Mix, ...]) -> bool:
    return any(
        start_s - ride.ramp_s < other_end_s + other.ramp_s and other_start_s - other.ramp_s < end_s + ride.ramp_s
        for mix in mixes
        for start_s, end_s in spans_in(ride, mix)
        for other_start_s, other_end_s in spans_in(other, mix)
    )


def spans_in(ride: Ride, mix: Mix) -> tuple[Span, ...]:
    """The stretches of a ride in one mix, in seconds, the earliest first: its own times, and its sections.

    A section that is faulty is left out.
    """
    named = [(each.start_s, each.end_s) for each in mix.sections if each.name in ride.sections]
    return tuple(sorted(span for span in (*named, *ride.spans) if span[0] < span[1]))
