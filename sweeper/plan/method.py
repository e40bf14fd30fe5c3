"""How an exploration chooses, and why that way."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from itertools import islice

from sweeper.plan.space import Space

#: Below so many variants a population is too few generations old to be worth its first one. Ours.
LEAST_FOR_POPULATIONS = 100
#: Beyond so many objectives few variants are worse than another in all of them; NSGA-III is made for that.
MOST_FOR_NSGA2 = 3
#: So many generations are wanted of the variants there may be, and so many variants in each. Ours.
GENERATIONS, LEAST_POPULATION, MOST_POPULATION = 5, 20, 50


class Way(Enum):
    """What chooses: chance and what came of the earlier ones, or nothing, where all are taken."""

    ALL = "all combinations"
    TPE = "TPE"
    NSGA2 = "NSGA-II"
    NSGA3 = "NSGA-III"


@dataclass(frozen=True)
class Method:
    """A way of choosing. why: in words. objectives: how many are preferred. population: variants of a generation."""

    way: Way
    why: str
    objectives: int = 1
    population: int = 0

    def __str__(self) -> str:
        return f"{self.way.value}: {self.why}"


def method_for(space: Space, objectives: int, variants: int) -> Method:
    """What suits a space, for so many preferences and at most so many variants of a mix."""
    if space.is_finite and (count := sum(1 for _ in islice(space.every(), variants + 1))) <= variants:
        return Method(Way.ALL, f"there are no more than {count}", objectives)
    if objectives == 1:
        return Method(Way.TPE, "one preference, which it learns from few variants")
    if variants < LEAST_FOR_POPULATIONS:
        why = f"{variants} variants are too few for generations, as methods for several preferences want them"
        return Method(Way.TPE, why, objectives)
    if space.is_conditional:
        return Method(Way.TPE, "it learns what is in doubt only with some alternatives apart", objectives)
    population = min(MOST_POPULATION, max(LEAST_POPULATION, variants // GENERATIONS))
    way = Way.NSGA2 if objectives <= MOST_FOR_NSGA2 else Way.NSGA3
    return Method(way, f"{objectives} preferences, and variants enough for generations of {population}", objectives,
                  population)  # fmt: skip
