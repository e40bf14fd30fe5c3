"""The exploration of one mix as it goes on: what was asked in which batch, which variants that made, how it ends."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby, islice

from sweeper.chain.model import Explore
from sweeper.plan.explorer import Explorer
from sweeper.plan.method import Method, Way
from sweeper.plan.space import Point, Space
from sweeper.plan.teachers import explored_teachers
from sweeper.plan.told import Told, since_better
from sweeper.plan.variants import Variant, VariantMaker

#: Variants that are asked for before any of them is told of, whatever the number of workers. Ours: enough for the
#: workers of one machine, few enough to learn from each other.
BATCH = 8
#: So many times as many are asked for where what comes up was rendered already.
MOST_TRIES = 3


@dataclass(frozen=True)
class Entry:
    """One thing that was asked for. batch: counted from 0. variant: the id of what it makes, new or there before."""

    batch: int
    variant: str
    point: Point


@dataclass(frozen=True)
class Batch:
    """variants: those that are new with it. taught_by: who teaches each, None = it starts where its settings stand."""

    variants: tuple[Variant, ...]
    taught_by: Mapping[str, str | None]


@dataclass(frozen=True)
class Ground:
    """What the exploration of a mix goes by. maker: of the variants of all mixes. most: variants of each mix. digits:
    of an id."""

    space: Space
    maker: VariantMaker
    method: Method
    explore: Explore
    most: int
    digits: int


class MixExploration:
    """One mix. found: the variants of all mixes, by id: new ones are added. entries: what was asked for before.

    counted_from: so many variants there were when some were last added to the run. ended: why, "" while it goes on.
    has_strayed: what was asked for before would not be asked for now. Raises ValueError for entries of another space.
    """

    def __init__(self, ground: Ground, mix: int, found: dict[str, Variant], entries: Sequence[Entry],
                 counted_from: int) -> None:  # fmt: skip
        self.entries = list(entries)
        self.counted_from = counted_from
        self.ended = ""
        self.has_strayed = False
        self._ground = ground
        self._mix = mix
        self._found = found
        self._ids: dict[object, str] = {}  # what is heard -> the variant
        self._first: dict[str, Entry] = {}  # how each variant came up first, in the order of asking
        self._recorded = [tuple(batch) for _, batch in groupby(self.entries, key=lambda entry: entry.batch)]
        self._open: tuple[Entry, ...] = ()
        self._every = ground.space.every()
        self._explorer = None if ground.method.way is Way.ALL else Explorer(
            ground.space, ground.method, ground.explore.seed, mix)  # fmt: skip
        for entry in self.entries:
            if self._variant_at(entry.point, entry.variant) != entry.variant:
                raise ValueError(f"variant {entry.variant} is another one now")
            self._first.setdefault(entry.variant, entry)

    @property
    def count(self) -> int:
        """How many variants there are."""
        return len(self._first)

    @property
    def most(self) -> int:
        """How many variants there will be at most."""
        return len(self._first) if self.ended else max(self._ground.most, len(self._first))

    def next(self, told: Mapping[str, Told]) -> Batch | None:
        """The next batch, recorded ones first; None when it has ended. told: what came of every variant, by id."""
        self._tell(told)
        if self.ended:
            return None
        if self._recorded:
            self._open = self._recorded.pop(0)
            self._ask_again()
        else:
            self.ended = self._why_ended(told)
            self._open = () if self.ended else tuple(self._asked())
            self.entries += self._open
        if not self._open:
            self.ended = self.ended or self._in_words("every combination is rendered")
            return None
        return self._batch(told)

    def _tell(self, told: Mapping[str, Told]) -> None:
        entries, self._open = self._open, ()
        if not entries or self._explorer is None:
            return
        outcomes = [told[entry.variant] for entry in entries]
        if self._explorer.asked == [entry.point for entry in entries]:
            self._explorer.tell(outcomes)
        else:
            self._explorer.learn([entry.point for entry in entries], outcomes)

    def _ask_again(self) -> None:
        """Ask for what was asked for before, so that what is asked next is what it would have been."""
        if self._explorer is not None and not self.has_strayed:
            self._explorer.begin(self._open[0].batch)
            self.has_strayed = [self._explorer.ask() for _ in self._open] != [entry.point for entry in self._open]

    def _why_ended(self, told: Mapping[str, Told]) -> str:
        stop_after, count = self._ground.explore.stop_after, len(self._first)
        if count >= self._ground.most:
            return self._in_words("as many as were asked for")
        if self.entries and all(entry.batch < self.entries[-1].batch for entry in self._first.values()):
            return self._in_words(f"the last {MOST_TRIES * BATCH} choices were all rendered before")
        stale = since_better([told[id] for id in self._first])
        if stop_after is not None and min(stale, count - self.counted_from) >= stop_after:
            return self._in_words(f"the last {stale} were no better")
        return ""

    def _in_words(self, why: str) -> str:
        count = len(self._first)
        return f"ended after {count} variant{'s' * (count != 1)}: {why}"

    def _asked(self) -> Iterator[Entry]:
        """New things to try, and what came up again among them."""
        batch = self.entries[-1].batch + 1 if self.entries else 0
        wanted = min(self._ground.most, len(self._first) + BATCH)
        for point in self._candidates(batch):
            entry = Entry(batch, self._variant_at(point), point)
            is_new = entry.variant not in self._first
            self._first.setdefault(entry.variant, entry)
            if is_new or self._explorer is not None:
                yield entry
            if len(self._first) == wanted:
                return

    def _candidates(self, batch: int) -> Iterator[Point]:
        if self._explorer is None:
            return self._every
        self._explorer.begin(batch)
        return islice(iter(self._explorer.ask, None), MOST_TRIES * BATCH)

    def _variant_at(self, point: Point, id: str = "") -> str:
        """The id of what a point makes: of the variant that sounds the same, or of a new one."""
        pick = replace(self._ground.space.pick(point), place=(len(self._ids),))
        heard, variant = self._ground.maker.made(pick, self._mix)
        if heard not in self._ids:
            id = id or f"{len(self._found) + 1:0{self._ground.digits}d}"
            self._ids[heard] = id
            self._found[id] = self._ground.maker.of_mix(variant, self._mix, id)
        return self._ids[heard]

    def _batch(self, told: Mapping[str, Told]) -> Batch:
        number = self._open[0].batch
        new = tuple(self._found[id] for id, entry in self._first.items() if entry.batch == number)
        earlier = [self._found[id] for id, entry in self._first.items() if entry.batch < number and told[id].landed]
        return Batch(new, explored_teachers(new, earlier, self._apart))

    def _apart(self, one: str, other: str) -> tuple[int, float]:
        return self._ground.space.apart(self._first[one].point, self._first[other].point)
