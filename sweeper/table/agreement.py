"""How far the order on excerpts agrees with the order of the whole, over the variants that have both."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sweeper.chain.model import Chain
from sweeper.quantities import quantity_of
from sweeper.table.row import Row

#: Below so many variants it says little: of four, a third of all orders have a tau of 0.67 and more, or -0.67 and less.
FEW = 5


@dataclass(frozen=True)
class Agreement:
    """Of one mix and one preference. tau: 1.0 = the same order, -1.0 = the other way round, 0.0 = none; None = there is
    no order, as `variants` are fewer than two, or all of them equal. variants: how many were compared."""

    mix: str
    key: str
    tau: float | None
    variants: int

    @property
    def words(self) -> str:
        """In a sentence, without the mix."""
        name, many = quantity_of(self.key).name, f"{self.variants} variant{'s' * (self.variants != 1)}"
        if self.tau is None:
            why = "they are all equal" if self.variants > 1 else "that takes two"
            return f"{name}: no order on excerpts to hold against the whole, over {many}: {why}"
        few = ", too few to say much" if self.variants < FEW else ""
        return f"{name}: the order on excerpts agrees with that of the whole: tau {self.tau + 0.0:.2f} over {many}{few}"

    def as_data(self) -> dict[str, object]:
        """For JSON."""
        return {"mix": self.mix, "measurement": self.key, "tau": self.tau, "variants": self.variants}


def agreements(chain: Chain, rows: Sequence[Row]) -> tuple[Agreement, ...]:
    """Of each mix by itself, for every preference, over the rows that were tried on excerpts and rendered."""
    return tuple(_agreement(mix.written, wish.key, rows) for mix in chain.mixes for wish in chain.prefer)


def excerpts_words(rows: Sequence[Row], agreed: Sequence[Agreement]) -> tuple[str, ...]:
    """What became of what was tried on excerpts, and how its order agrees with that of the whole; () = nothing was."""
    tried, rendered = _counts(rows)
    if not tried:
        return ()
    several = len({one.mix for one in agreed}) > 1
    return (f"{tried} variants were tried on excerpts, the best {rendered} of them rendered; table.csv has all",
            *(f"{f'{one.mix}: ' if several else ''}{one.words}" for one in agreed))  # fmt: skip


def excerpts_data(rows: Sequence[Row], agreed: Sequence[Agreement]) -> dict[str, object]:
    """The same for machines, under its key; {} = nothing was."""
    tried, rendered = _counts(rows)
    return {"on_excerpts": {"tried": tried, "rendered": rendered, "agreement": [one.as_data() for one in agreed]}
            } if tried else {}  # fmt: skip


def _counts(rows: Sequence[Row]) -> tuple[int, int]:
    tried = [row for row in rows if row.on_excerpts is not None]
    return len(tried), sum(row.done for row in tried)


def _agreement(mix: str, key: str, rows: Sequence[Row]) -> Agreement:
    """Kendall's tau-b, which allows for ties (Kendall 1945, as in scipy)."""
    pairs = list(_pairs(mix, key, rows))
    if len(pairs) < 2:
        return Agreement(mix, key, None, len(pairs))
    from scipy.stats import kendalltau  # takes half a second to load, and most runs need none of it

    tau = float(kendalltau(*zip(*pairs, strict=True)).statistic)
    return Agreement(mix, key, None if math.isnan(tau) else tau, len(pairs))


def _pairs(mix: str, key: str, rows: Sequence[Row]) -> Iterator[tuple[float, float]]:
    for row in rows:
        if row.mix == mix and row.done and row.measurements is not None and row.on_excerpts is not None:
            heard, whole = row.on_excerpts.measurements.compared(key), row.measurements.compared(key)
            if heard is not None and whole is not None:
                yield heard, whole
