"""`explore`: searching what is too large to sweep."""

from __future__ import annotations

from collections.abc import Mapping

from sweeper.chain.faults import Faults
from sweeper.chain.model import Explore
from sweeper.chain.nearest import quoted
from sweeper.chain.shapes import Field, fields, single

#: Of one mix. Ours: more than anybody renders.
MOST_EXPLORED = 10_000
MOST_SEED = 2**31 - 1
LISTEN_TO, WHOLE, EXCERPTS = "listen to", "whole", "excerpts"
HOW_MUCH = f"write '{WHOLE}', or '{EXCERPTS}' to render only the best in full"
EXAMPLE = "write e.g. explore: {variants: 60}"
OR_OUT = "or take 'explore' out"


def read_explore(field: Field, prefer: Field | None, faults: Faults) -> Explore:
    """prefer: the chain file's, which says what is better."""
    known = fields(field.value, "explore", "explore", faults)
    if field.value.empty or (field.value.pairs is not None and "variants" not in known):
        faults.add(field.mark, "'explore' does not say how many variants", EXAMPLE)
    if prefer is None or prefer.value.empty or prefer.value.items == ():
        faults.add(field.mark, "'explore' needs 'prefer': nothing says which variants are better",
                   f"add e.g. prefer: [crest highest], {OR_OUT}")
    variants = _count("variants", known, 1, MOST_EXPLORED, "how many variants of each mix at most", faults)
    seed = _count("seed", known, 0, MOST_SEED, "a whole number", faults)
    stop_after = _count("stop after", known, 1, MOST_EXPLORED,
                        "after how many variants without a better one it ends", faults)  # fmt: skip
    return Explore(variants or 1, 1 if seed is None else seed, stop_after, _excerpts(known, faults))


def _excerpts(known: Mapping[str, Field], faults: Faults) -> bool:
    """Whether variants are tried on excerpts."""
    field = known.get(LISTEN_TO)
    text = single(field.value, LISTEN_TO, faults, HOW_MUCH) if field else None
    if field is None or text is None:
        return False
    if text.casefold() not in (WHOLE, EXCERPTS):
        faults.add(field.value.mark, f"{LISTEN_TO} is {quoted(text)}", HOW_MUCH)
    return text.casefold() == EXCERPTS


def refuse_nothing_to_explore(field: Field, is_varied: bool, faults: Faults) -> None:
    """A fault where nothing is in doubt. is_varied: settings, alternatives or orders are."""
    if not is_varied:
        faults.add(field.mark, "'explore' has nothing to search: nothing is varied", f"add 'vary', {OR_OUT}")


def _count(key: str, known: Mapping[str, Field], least: int, most: int, what: str, faults: Faults) -> int | None:
    """A whole number; None where it is not there, or with a fault where it is none."""
    text = single(known[key].value, key, faults, f"write {what}, {least} to {most}") if key in known else None
    if text is None:
        return None
    if not (text.isascii() and text.isdigit() and len(text) < 11 and least <= int(text) <= most):
        faults.add(known[key].value.mark, f"{key} is {quoted(text)}", f"write {what}, {least} to {most}")
        return None
    return int(text)
