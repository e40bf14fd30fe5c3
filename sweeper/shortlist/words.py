"""Why a variant was picked, or passed over, in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from sweeper.chain.model import Preference
from sweeper.quantities import quantity_of
from sweeper.shortlist.contender import Contender
from sweeper.shortlist.likeness import Likeness
from sweeper.shortlist.picking import Part, Pick

#: So many settings are named by which one choice differs from another.
MOST_NAMED = 2


def why_picked(pick: Pick, before: Sequence[Contender], by_id: Mapping[str, Contender],
               prefer: Sequence[Preference]) -> str:  # fmt: skip
    """Why it is there. before: what was picked before it, in that order."""
    one = by_id[pick.id]
    if pick.part is Part.BEST:
        return f"the {' and the '.join(_extreme(prefer[number]) for number in pick.best)} of all"
    if pick.part is Part.BETWEEN:
        return f"on the trade-off front: {_traded(one, before[0], prefer)}"
    behind = "behind the trade-off front, " if len(prefer) > 1 else ""
    other = " that differs" if pick.after_twins else ""
    return f"{behind}next {_extreme(prefer[0])}{other}{_unlike(one, before)}"


def why_passed(likeness: Likeness, of: str) -> str:
    """near-duplicate of 004 (null -52 dB)"""
    return f"near-duplicate of {of} ({likeness.words})"


def _extreme(wish: Preference) -> str:
    """highest crest"""
    return f"{'highest' if wish.highest else 'lowest'} {quantity_of(wish.key).name}"


def _traded(one: Contender, other: Contender, prefer: Sequence[Preference]) -> str:
    """0.40 dB less crest than 001 for 3.0 dB less residue"""
    worse, better = list[str](), list[str]()
    for wish in prefer:
        ours, theirs = _value(one, wish.key), _value(other, wish.key)
        if ours is None or theirs is None or ours == theirs:
            continue
        gained = (ours > theirs) is wish.highest
        (better if gained else worse).append(_difference(wish.key, ours - theirs))
    if not worse or not better:
        return " and ".join(worse + better) + f" than {other.id}" if worse or better else f"as {other.id}"
    return f"{' and '.join(worse)} than {other.id} for {' and '.join(better)}"


def _difference(key: str, by: float) -> str:
    quantity = quantity_of(key)
    digits = f"{abs(by):.{quantity.decimals}f}"
    amount = f"{digits} {quantity.difference_unit}".strip() if float(digits) else "a trace"
    return f"{amount} {'more' if by > 0 else 'less'} {quantity.name}"


def _value(one: Contender, key: str) -> float | None:
    return one.row.measurements.compared(key) if one.row.measurements is not None else None


def _unlike(one: Contender, before: Sequence[Contender]) -> str:
    """: glue.Threshold -18 dB (001: -12 dB); by what it differs from the one before that is most like it."""
    if not before:
        return ""
    nearest = min(before, key=lambda other: len(_differing(one.varied, other.varied)))
    names = _differing(one.varied, nearest.varied)
    if not names:
        return ""
    words = [f"{name} {one.varied.get(name, 'not heard')} ({nearest.id}: {nearest.varied.get(name, 'not heard')})"
             for name in names[:MOST_NAMED]]  # fmt: skip
    more = len(names) - MOST_NAMED
    return ": " + ", ".join(words) + (f" and {more} more setting{'s' * (more > 1)}" if more > 0 else "")


def _differing(one: Mapping[str, str], other: Mapping[str, str]) -> list[str]:
    return [name for name in dict.fromkeys((*one, *other)) if one.get(name) != other.get(name)]

