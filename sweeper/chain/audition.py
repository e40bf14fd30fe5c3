"""`audition`: what is kept to be heard, and the sections at whose loudness it is matched."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sweeper.chain.faults import Faults
from sweeper.chain.mixes import read_match_over
from sweeper.chain.model import Mix
from sweeper.chain.nearest import quoted
from sweeper.chain.shapes import Field, fields, single

MOST_KEPT = 1000


@dataclass(frozen=True)
class Audition:
    """match_over: names of sections; () = the whole mix. keep: how many variants of each mix; None = all."""

    match_over: tuple[str, ...] = ()
    keep: int | None = None


def read_audition(field: Field, mixes: tuple[Mix, ...], prefer: Field | None, faults: Faults) -> Audition:
    """prefer: the chain file's, which says which variants are the best."""
    known = fields(field.value, "audition", "audition", faults)
    match_over = read_match_over(known["match over"].value, mixes, faults) if "match over" in known else ()
    return Audition(match_over, _keep(known, prefer, faults))


def _keep(known: Mapping[str, Field], prefer: Field | None, faults: Faults) -> int | None:
    text = single(known["keep"].value, "keep", faults, "write how many") if "keep" in known else None
    if text is None:
        return None
    if not (text.isascii() and text.isdigit() and len(text) < 9 and 1 <= int(text) <= MOST_KEPT):
        faults.add(known["keep"].value.mark, f"keep is {quoted(text)}",
                   f"write how many variants of each mix, 1 to {MOST_KEPT}")
        return None
    if prefer is None or prefer.value.empty or prefer.value.items == ():
        faults.add(known["keep"].mark, "'keep' needs 'prefer': nothing says which variants are the best",
                   "add e.g. prefer: [crest highest], or take 'keep' out")
    return int(text)
