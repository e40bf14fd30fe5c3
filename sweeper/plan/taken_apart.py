"""One variant taken apart: the variants that tell what each of its stages does in it.

Chains that end early tell how the sound stands behind a stage; chains that go on without a stage tell what it does for
the whole. They are variants like any other, so that the tree of steps shares what they have in common.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace

from sweeper.chain.model import Chain, Reach
from sweeper.errors import ChainFileError, Problem
from sweeper.host.setup import StageSetup, grouped
from sweeper.plan.looks import split
from sweeper.plan.variants import Variant

FULL = "full"
#: Where nothing of the chain is left.
MIX = ""


@dataclass(frozen=True)
class Behind:
    """A place behind one step. names: of the stage, or of the buses. number: of the last stage before it.

    id: the variant that ends there; None = only a render of the full one passes there, with what it solves.
    """

    names: tuple[str, ...]
    number: int
    id: str | None


@dataclass(frozen=True)
class Without:
    """A part left out: a stage that is heard, or a bus with all that stands on it.

    id: of the variant; MIX = no other stage is heard. dropped: keys of what cannot be solved without it.
    """

    name: str
    is_bus: bool
    id: str
    dropped: tuple[str, ...]


@dataclass(frozen=True)
class TakenApart:
    """variants: the full one, called FULL, first. reaches: what each of them solves, by id.

    behind: every place in the order of the signal, the last behind the full chain. without: every part in that order.
    """

    variants: tuple[Variant, ...]
    reaches: Mapping[str, tuple[Reach, ...]]
    behind: tuple[Behind, ...]
    without: tuple[Without, ...]

    @property
    def tapped(self) -> tuple[int, ...]:
        """The stages of the full variant behind which its own render has to be measured."""
        return tuple(place.number for place in self.behind if place.id is None)


def taken_apart(chain: Chain, variant: Variant) -> TakenApart:
    """Take a variant apart. Raises ChainFileError where it hears no stage, or sends sound out."""
    _refuse(chain, variant)
    apart = _Variants(chain, variant)
    groups = grouped(variant.stages)
    first_turned = min((turn.stage for turn in variant.turns), default=len(variant.stages))
    behind = []
    for place, numbers in enumerate(groups, 1):
        names = dict.fromkeys(variant.stages[n].bus or variant.stages[n].name for n in numbers)
        after = frozenset(number for later in groups[place:] for number in later)
        early = apart.named(f"after {place}", after) if numbers[-1] < first_turned else None
        behind.append(Behind(tuple(names), numbers[-1], FULL if place == len(groups) else early))
    without = []
    for place, (name, is_bus, silent) in enumerate(_parts(variant.stages), 1):
        id = apart.named(f"without {place}", silent)
        left = {reach.by for reach in apart.reaches.get(id, ())}
        dropped = tuple(reach.key for reach in chain.reach if reach.by not in left)
        without.append(Without(name, is_bus, id, dropped))
    return TakenApart(tuple(apart.made.values()), apart.reaches, tuple(behind), tuple(without))


class _Variants:
    """The variants made so far, each kind of chain once. reaches: what each solves, by id."""

    def __init__(self, chain: Chain, variant: Variant) -> None:
        self._chain = chain
        self._whole = variant
        self.made: dict[frozenset[int], Variant] = {}
        self.reaches: dict[str, tuple[Reach, ...]] = {}
        self.named(FULL, frozenset())

    def named(self, id: str, silent: frozenset[int]) -> str:
        """The id of the variant without these stages; `id` where it is a new one, MIX where nothing is left."""
        whole = self._whole
        stages = tuple(replace(s, bypass=True) if n in silent else s for n, s in enumerate(whole.stages))
        if all(setup.bypass for setup in stages):
            return MIX
        if silent not in self.made:
            kept = dict(_kept(self._chain.reach, {whole.stages[number].name for number in silent}))
            turns = tuple(whole.turns[number] for number in kept)
            place = (whole.mix, len(self.made))
            self.made[silent] = Variant(id, whole.mix, whole.varied, stages, turns, place)
            self.reaches[id] = tuple(kept.values())
        return self.made[silent].id


def _kept(reaches: tuple[Reach, ...], silent: Collection[str]) -> Iterator[tuple[int, Reach]]:
    """What can still be solved without these stages, by its number, without bounds on what they do."""
    for number, reach in enumerate(reaches):
        if reach.by.stage not in silent and split(reach.key)[0] not in silent:
            bounds = tuple(bound for bound in reach.stop_at if split(bound.key)[0] not in silent)
            yield number, replace(reach, stop_at=bounds)


def _parts(stages: tuple[StageSetup, ...]) -> Iterator[tuple[str, bool, frozenset[int]]]:
    """Every stage that is heard, a bus as one: its name, whether it is a bus, the numbers of its stages."""
    heard = [(number, setup) for number, setup in enumerate(stages) if not setup.bypass]
    for name, is_bus in dict.fromkeys((setup.bus or setup.name, bool(setup.bus)) for _, setup in heard):
        yield name, is_bus, frozenset(n for n, setup in heard if (setup.bus or setup.name) == name)


def _refuse(chain: Chain, variant: Variant) -> None:
    heard = [setup for setup in variant.stages if not setup.bypass]
    if not heard:
        what = f"variant {variant.id} has no stage that is heard"
        raise ChainFileError([Problem(str(chain.path), 0, 0, what, "take 'bypass' out of one")])
    for setup in heard:
        if setup.outside:
            mark = next(stage.mark for stage in chain.stages if stage.name == setup.name)
            what = f"'{setup.name}' is outside: without a stage before it, something else would have to be sent out"
            remedy = "bypass it in a copy of the chain file, and start that from what came back"
            raise ChainFileError([Problem(str(chain.path), mark.line, mark.column, what, remedy)])
