"""Whatever is done to a store in whatever order: the limit, the leases and the order of use hold."""

from __future__ import annotations

import tempfile
from collections import Counter
from pathlib import Path

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule
from store_program import key, put, sound

from sweeper.render.store import Store
from sweeper.render.store.contents import entries

NAMES = [key(number) for number in range(7)]
LIMIT_BYTES = 20_000
FRAMES = st.integers(100, 1200)
WHO = st.integers(0, 1)


def size_of(frames: int, folder: Path) -> int:
    """What such an entry takes, found by writing one elsewhere."""
    put(folder, NAMES[0], sound(frames))
    return sum(path.stat().st_size for path in folder.rglob("*.*") if path.suffix in (".wav", ".json"))


class AnyOrder(RuleBasedStateMachine):
    """Two runs share a store. The model knows what each leases, and in which order the keys were used."""

    def __init__(self) -> None:
        super().__init__()
        self.room = tempfile.TemporaryDirectory()
        self.folder = Path(self.room.name) / "store"
        self.leased: list[Counter[str]] = [Counter(), Counter()]
        self.promises: list[dict[str, int]] = [{}, {}]
        self.order: list[str] = []
        self.written: set[str] = set()
        self.stores: list[Store] = []

    @initialize()
    def open(self) -> None:
        self.stores = [Store(self.folder, LIMIT_BYTES).__enter__() for _ in range(2)]

    def teardown(self) -> None:
        for store in self.stores:
            store.__exit__()
        self.room.cleanup()

    def used(self, name: str) -> None:
        self.order = [each for each in self.order if each != name] + [name]

    def promised(self, name: str) -> int:
        """The largest that a living run has promised for a key; claimed keys promise nothing."""
        return max(own.get(name, 0) for own in self.promises)

    def needed(self) -> set[str]:
        return {name for counts in self.leased for name in +counts}

    @rule(who=WHO, name=st.sampled_from(NAMES))
    def claim(self, who: int, name: str) -> None:
        was_there = name in entries(self.folder)
        assert self.stores[who].claim(name) == was_there
        if was_there:
            self.leased[who][name] += 1
            self.used(name)

    @rule(who=WHO, name=st.sampled_from(NAMES), frames=FRAMES, written=st.booleans())
    def reserve(self, who: int, name: str, frames: int, written: bool) -> None:
        with tempfile.TemporaryDirectory() as elsewhere:
            size = size_of(frames, Path(elsewhere))
        before, needed = entries(self.folder), self.needed()
        got = self.stores[who].reserve(name, size)
        after = entries(self.folder)
        went = [each for each in self.order if each in before and each not in after]
        free = [each for each in self.order if each in before and each not in needed and each != name]
        assert went == free[: len(went)], "the least recently used go, and nobody's leases"
        promised = {each: self.promised(each) for each in needed if each not in before and each != name}
        if name not in before:
            mine = max(size, self.promised(name))
            least = sum(before[each].bytes for each in needed if each in before) + sum(promised.values()) + mine
            assert got == (least <= LIMIT_BYTES)
            if went:
                one_more = sum(each.bytes for each in after.values()) + before[went[-1]].bytes
                assert one_more + sum(promised.values()) + mine > LIMIT_BYTES, "no more goes than has to"
        self.written -= set(went)
        if not got:
            assert after == before
            return
        self.promises[who][name] = max(self.promises[who].get(name, 0), size)
        self.leased[who][name] += 1
        self.used(name)
        if written and name not in after:
            put(self.folder, name, sound(frames))
            self.written.add(name)

    @rule(who=WHO, number=st.integers(0, 20))
    def release(self, who: int, number: int) -> None:
        mine = sorted(+self.leased[who])
        if mine:
            name = mine[number % len(mine)]
            self.stores[who].release(name)
            self.leased[who][name] -= 1
            if not self.leased[who][name]:
                self.promises[who].pop(name, None)
            if name in entries(self.folder):
                self.used(name)

    @rule(who=WHO, name=st.sampled_from(NAMES))
    def discard(self, who: int, name: str) -> None:
        if name not in self.needed():
            self.stores[who].discard(name)
            self.written.discard(name)
            assert name not in entries(self.folder)

    @rule(who=WHO)
    def end_and_begin_again(self, who: int) -> None:
        self.stores[who].__exit__()
        self.leased[who].clear()
        self.promises[who].clear()
        self.stores[who] = Store(self.folder, LIMIT_BYTES).__enter__()

    @invariant()
    def the_limit_is_kept(self) -> None:
        if self.stores:
            promised = sum(self.promised(each) for each in self.needed() if each not in entries(self.folder))
            assert self.stores[0].total_bytes() + promised <= LIMIT_BYTES

    @invariant()
    def nothing_goes_that_was_not_driven_out(self) -> None:
        assert self.written == set(entries(self.folder))


TestAnyOrder = AnyOrder.TestCase
TestAnyOrder.settings = settings(
    max_examples=40, stateful_step_count=30, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
