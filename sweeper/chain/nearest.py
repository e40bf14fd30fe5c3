"""The valid name nearest to one that is not."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

ALIKE = 0.6  # share of letters in common below which a guess would only mislead


def nearest(name: str, valid: Iterable[str], alike: float = ALIKE) -> str | None:
    """The valid name that looks most like `name`, case aside; None when none has such a share of letters in common."""
    by_folded = {candidate.casefold(): candidate for candidate in valid}
    found = get_close_matches(name.casefold(), by_folded, n=1, cutoff=alike)
    return by_folded[found[0]] if found else None


def suggestion(name: str, valid: Iterable[str]) -> str:
    """The remedy for an unknown name: the nearest valid one, else all of them."""
    valid = tuple(valid)
    if len(valid) == 1:
        return f"write '{valid[0]}'"
    near = nearest(name, valid)
    if near is not None:
        return f"did you mean '{near}'?"
    return f"known here: {', '.join(valid)}" if valid else ""


def quoted(text: str, longest: int = 48) -> str:
    """The text in single quotes on one line, cut where it is long."""
    line = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    return f"'{line if len(line) <= longest else line[: longest - 1] + '…'}'"
