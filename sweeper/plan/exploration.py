"""An exploration: one of every mix, after each other, with one count of variants."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from random import Random
from typing import Any

from sweeper.chain.model import Chain
from sweeper.chain.own_chain import chain_of
from sweeper.plan.examined import Examined
from sweeper.plan.method import Method, Way, method_for
from sweeper.plan.mix_exploration import MOST_TRIES, Batch, Entry, Ground, MixExploration
from sweeper.plan.space import Space
from sweeper.plan.told import Told
from sweeper.plan.variants import Variant, VariantMaker, digits_for

STRAYED = ("it would choose otherwise now, as what failed before did not fail again or optuna is another version: what "
           "was rendered counts, and it went on from there")  # fmt: skip


@dataclass(frozen=True)
class Recorded:
    """What a run's ledger tells of its exploration. more: how many variants of each mix were added, each time.

    asked: of each mix, in the order of asking. counted_from: of each mix, how many variants it had when some were last
    added.
    """

    more: tuple[int, ...] = ()
    asked: tuple[tuple[Entry, ...], ...] = ()
    counted_from: tuple[int, ...] = ()

    @staticmethod
    def from_data(data: Mapping[str, Any]) -> Recorded:
        """Back from `Exploration.as_data`. Raises KeyError, TypeError or ValueError for what that did not write."""
        mixes = data["mixes"]
        return Recorded(
            tuple(int(number) for number in data["more"]),
            tuple(tuple(Entry(int(one["batch"]), str(one["variant"]), dict(one["point"])) for one in mix["asked"])
                  for mix in mixes),
            tuple(int(mix["counted_from"]) for mix in mixes),
        )  # fmt: skip

    def with_more(self, variants: int) -> Recorded:
        """The same with so many variants of each mix added."""
        counts = tuple(len({one.variant for one in entries}) for entries in self.asked)
        return Recorded((*self.more, variants), self.asked, counts)


class Exploration:
    """The explorations of all mixes of a chain. Raises ValueError where what is recorded is not of that chain."""

    def __init__(self, chain: Chain, examined: Examined, recorded: Recorded | None = None) -> None:
        assert chain.explore is not None
        recorded = recorded or Recorded((), ((),) * len(chain.mixes), (0,) * len(chain.mixes))
        most = chain.explore.variants + sum(recorded.more)
        spaces = _spaces(chain, examined)
        methods = {id(space): _method(space, chain, most) for space in dict.fromkeys(spaces)}
        self._methods = [methods[id(space)] for space in spaces]
        self.method = next((one for one in self._methods if one.way is not Way.ALL), self._methods[0])
        self._chain = chain
        self._recorded = recorded
        self._found: dict[str, Variant] = {}
        maker, digits = VariantMaker(chain, examined), digits_for(chain.explore.variants * len(chain.mixes))
        grounds = [Ground(space, maker, method, chain.explore, most, digits)
                   for space, method in zip(spaces, self._methods, strict=True)]  # fmt: skip
        self._mixes = [
            MixExploration(ground, mix, self._found, entries, counted_from)
            for mix, (ground, entries, counted_from) in enumerate(
                zip(grounds, recorded.asked, recorded.counted_from, strict=True))
        ]  # fmt: skip

    @property
    def found(self) -> tuple[Variant, ...]:
        """Every variant so far, in the order of asking."""
        return tuple(self._found[id] for id in sorted(self._found, key=int))

    @property
    def most(self) -> int:
        """How many variants there will be at most."""
        return sum(mix.most for mix in self._mixes)

    @property
    def to_come(self) -> int:
        """How many variants of each mix may still be asked for."""
        return max(one.most - one.count for one in self._mixes)

    @property
    def words(self) -> tuple[str, ...]:
        """How it chose, and of each mix after how many variants it ended, and why."""
        alike = len(set(self._methods)) == 1
        told = [f"explored by {self.method}"] if alike else []
        for mix, one, method in zip(self._chain.mixes, self._mixes, self._methods, strict=True):
            place = f"{mix.written}: " if len(self._mixes) > 1 else ""
            words = ("" if alike else f"explored by {method}", one.ended, STRAYED if one.has_strayed else "")
            told += [f"{place}{what}" for what in words if what]
        return tuple(told)

    def next(self, told: Mapping[str, Told]) -> Batch | None:
        """The next batch; None when it has ended. told: what came of every variant so far, by id."""
        return next((batch for mix in self._mixes if (batch := mix.next(told)) is not None), None)

    def answer(self) -> dict[str, object]:
        """For machines: how it chose, and of each mix how it ended."""
        return {
            "method": self.method.way.value, "why": self.method.why,
            "mixes": [{"mix": mix.written, "asked": len(one.entries), "variants": one.count, "ended": one.ended or None,
                       **self._own_method(method)}
                      for mix, one, method in zip(self._chain.mixes, self._mixes, self._methods, strict=True)],
        }  # fmt: skip

    def _own_method(self, method: Method) -> dict[str, str]:
        """How one mix is explored, where not all are so: some have less in doubt, by settings of their own."""
        return {} if len(set(self._methods)) == 1 else {"method": method.way.value, "why": method.why}

    def as_data(self) -> dict[str, object]:
        """For run.json: how it chooses, and everything that it asked for."""
        return {
            "method": self.method.way.value, "why": self.method.why, "more": list(self._recorded.more),
            "mixes": [
                {"mix": mix.written, "ended": one.ended or None, "counted_from": one.counted_from,
                 "asked": [{"batch": entry.batch, "variant": entry.variant, "point": dict(entry.point)}
                           for entry in one.entries], **self._own_method(method)}
                for mix, one, method in zip(self._chain.mixes, self._mixes, self._methods, strict=True)
            ],
        }  # fmt: skip


def covering(chain: Chain, examined: Examined) -> tuple[Variant, ...]:
    """A few variants of every mix in which each stage and each of its alternatives comes up."""
    spaces, maker = _spaces(chain, examined), VariantMaker(chain, examined)
    made = [(mix, maker.made(space.pick(point), mix)[1]) for mix, space in enumerate(spaces) for point in space.cover()]
    return tuple(maker.of_mix(one, mix, f"{number:03d}") for number, (mix, one) in enumerate(made, 1))


def foreseen(chain: Chain, examined: Examined, most: int) -> tuple[Variant, ...]:
    """So many variants of each mix by chance, or all there are: what an exploration takes is foreseen from them."""
    assert chain.explore is not None
    maker, of_settings = VariantMaker(chain, examined), dict[int, list[Variant]]()
    for mix, space in enumerate(_spaces(chain, examined)):
        if maker.giver(mix) == mix:
            of_settings[mix] = _by_chance(chain, maker, mix, space, most)
    made = [(mix, one) for mix in range(len(chain.mixes)) for one in of_settings[maker.giver(mix)]]
    return tuple(maker.of_mix(one, mix, f"{number:05d}") for number, (mix, one) in enumerate(made, 1))


def _by_chance(chain: Chain, maker: VariantMaker, mix: int, space: Space, most: int) -> list[Variant]:
    assert chain.explore is not None
    chance = Random(chain.explore.seed)
    is_all = _method(space, chain, most).way is Way.ALL
    points = space.every() if is_all else (space.drawn(chance) for _ in range(MOST_TRIES * most))
    distinct: dict[object, Variant] = {}
    for point in points:
        if len(distinct) < most:
            heard, variant = maker.made(replace(space.pick(point), place=(len(distinct),)), mix)
            distinct.setdefault(heard, variant)
    return list(distinct.values())


def _spaces(chain: Chain, examined: Examined) -> list[Space]:
    """What each mix can choose from: the same for all that have no settings of their own."""
    for_all = Space(chain, examined)
    return [Space(chain_of(chain, mix), examined) if one.settings else for_all for mix, one in enumerate(chain.mixes)]


def _method(space: Space, chain: Chain, most: int) -> Method:
    """How it chooses: all there are where they are few enough, else as when it was begun, whatever is added later."""
    assert chain.explore is not None
    objectives = len(chain.prefer)
    now = method_for(space, objectives, most)
    return now if now.way is Way.ALL else method_for(space, objectives, chain.explore.variants)
