"""An exploration: one of every mix, after each other, with one count of variants."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from random import Random
from typing import Any

from sweeper.chain.model import Chain
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
        space = Space(chain, examined)
        self.method = _method(space, chain, most)
        self._chain = chain
        self._recorded = recorded
        self._found: dict[str, Variant] = {}
        ground = Ground(space, VariantMaker(chain, examined), self.method, chain.explore, most,
                        digits_for(chain.explore.variants * len(chain.mixes)))  # fmt: skip
        numbers = range(len(chain.mixes))
        self._mixes = [
            MixExploration(ground, mix, self._found, entries, counted_from)
            for mix, entries, counted_from in zip(numbers, recorded.asked, recorded.counted_from, strict=True)
        ]

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
        told = [f"explored by {self.method}"]
        for mix, one in zip(self._chain.mixes, self._mixes, strict=True):
            place = f"{mix.written}: " if len(self._mixes) > 1 else ""
            told += [f"{place}{what}" for what in (one.ended, STRAYED if one.has_strayed else "") if what]
        return tuple(told)

    def next(self, told: Mapping[str, Told]) -> Batch | None:
        """The next batch; None when it has ended. told: what came of every variant so far, by id."""
        return next((batch for mix in self._mixes if (batch := mix.next(told)) is not None), None)

    def answer(self) -> dict[str, object]:
        """For machines: how it chose, and of each mix how it ended."""
        return {
            "method": self.method.way.value, "why": self.method.why,
            "mixes": [{"mix": mix.written, "asked": len(one.entries), "variants": one.count, "ended": one.ended or None}
                      for mix, one in zip(self._chain.mixes, self._mixes, strict=True)],
        }  # fmt: skip

    def as_data(self) -> dict[str, object]:
        """For run.json: how it chooses, and everything that it asked for."""
        return {
            "method": self.method.way.value, "why": self.method.why, "more": list(self._recorded.more),
            "mixes": [
                {"mix": mix.written, "ended": one.ended or None, "counted_from": one.counted_from,
                 "asked": [{"batch": entry.batch, "variant": entry.variant, "point": dict(entry.point)}
                           for entry in one.entries]}
                for mix, one in zip(self._chain.mixes, self._mixes, strict=True)
            ],
        }  # fmt: skip


def covering(chain: Chain, examined: Examined) -> tuple[Variant, ...]:
    """A few variants of every mix in which each stage and each of its alternatives comes up."""
    space, maker = Space(chain, examined), VariantMaker(chain, examined)
    made = [maker.made(space.pick(point))[1] for point in space.cover()]
    return tuple(maker.of_mix(one, mix, f"{mix * len(made) + number + 1:03d}")
                 for mix in range(len(chain.mixes)) for number, one in enumerate(made))  # fmt: skip


def foreseen(chain: Chain, examined: Examined, most: int) -> tuple[Variant, ...]:
    """So many variants of each mix by chance, or all there are: what an exploration takes is foreseen from them."""
    assert chain.explore is not None
    space, maker, chance = Space(chain, examined), VariantMaker(chain, examined), Random(chain.explore.seed)
    is_all = _method(space, chain, most).way is Way.ALL
    points = space.every() if is_all else (space.drawn(chance) for _ in range(MOST_TRIES * most))
    distinct: dict[object, Variant] = {}
    for point in points:
        if len(distinct) < most:
            heard, variant = maker.made(replace(space.pick(point), place=(len(distinct),)))
            distinct.setdefault(heard, variant)
    return tuple(
        maker.of_mix(one, mix, f"{mix * len(distinct) + number + 1:05d}")
        for mix in range(len(chain.mixes))
        for number, one in enumerate(distinct.values())
    )


def _method(space: Space, chain: Chain, most: int) -> Method:
    """How it chooses: all there are where they are few enough, else as when it was begun, whatever is added later."""
    assert chain.explore is not None
    objectives = len(chain.prefer)
    now = method_for(space, objectives, most)
    return now if now.way is Way.ALL else method_for(space, objectives, chain.explore.variants)
