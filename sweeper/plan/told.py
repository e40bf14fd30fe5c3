"""What came of a variant, as an exploration is told of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Told:
    """What came of a variant. values: what is preferred, each the better the lower; None = there is none.

    violations: how far it is from each thing that it must be; 0.0 = it is there. failed: it came to nothing. landed:
    every setting that was solved for it came to rest where another may start from.
    """

    values: tuple[float | None, ...]
    violations: tuple[float, ...] = ()
    failed: bool = False
    landed: bool = False

    @property
    def is_bad(self) -> bool:
        """There is nothing to hold against others."""
        return self.failed or None in self.values

    @property
    def excess(self) -> float:
        """How far it is from all that it must be."""
        return sum(each for each in self.violations if each > 0)

    @property
    def fits(self) -> bool:
        """It is all that it must be."""
        return not self.is_bad and self.excess == 0


def since_better(told: Sequence[Told]) -> int:
    """How many variants came since the last that was better than all before it.

    Better is what no earlier one equals or beats in everything that is preferred; while none fits, what is nearer to
    fitting.
    """
    last, front, least = 0, list[tuple[float, ...]](), float("inf")
    for number, one in enumerate(told, 1):
        if one.fits:
            values = tuple(value for value in one.values if value is not None)
            if not any(all(a <= b for a, b in zip(other, values, strict=True)) for other in front):
                front.append(values)
                last = number
        elif not front and not one.is_bad and one.excess < least:
            least, last = one.excess, number
    return len(told) - last
