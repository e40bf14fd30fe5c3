"""The variants that a chain file asks for: every combination of what is in doubt, for every mix; equal ones once."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache

from sweeper.chain.model import Chain, Mix, SettingValue
from sweeper.chain.own_chain import chain_of, own_refs
from sweeper.chain.ride_times import spans_in
from sweeper.chain.sequence import Order, in_place, in_words
from sweeper.host.setup import StageSetup
from sweeper.plan.examined import Examined
from sweeper.plan.names import counts_down, direction_of, setting_of
from sweeper.plan.own_told import OwnTold, own_told
from sweeper.plan.reach import Direction
from sweeper.plan.setups import Heard, Setups, without_buses_off


@dataclass(frozen=True)
class Turn:
    """A setting that a reach solves in one variant. stage: its number among the variant's stages.

    setting: the plugin's own name for it, a trim or blend. side: "" = every instance. text: as the chain file names it.
    ride: the ride whose amount is solved, "" = the setting itself. sign: -1 where the chain file counts the other way
    than the control does: a step towards more of a handle that lowers it.
    """

    stage: int
    setting: str
    side: str
    direction: Direction
    text: str
    ride: str = ""
    sign: int = 1


@dataclass(frozen=True)
class Variant:
    """One complete set of settings for one mix.

    id: "001", "002", ... in the file's order. mix: its number in the chain. varied: what was chosen for it, as
    written, by reference ("sequence", the stage's name for one of its alternatives, else stage.setting); what is
    not heard in it is left out. stages: in the order of the signal, bypassed ones too, without those that the
    sequence leaves out. turns: what its reaches solve, in the order of `Chain.reach`. place: which value of each
    axis it has, the slowest axis first: mix, sequence where there is one, every stage with alternatives, `vary`. main:
    the number of the mix whose settings it has, solved ones too; None = its own. own: the settings that some mix has
    of its own, as this one has them.
    """

    id: str
    mix: int
    varied: Mapping[str, str]
    stages: tuple[StageSetup, ...]
    turns: tuple[Turn, ...] = ()
    place: tuple[int, ...] = ()
    main: int | None = None
    own: tuple[OwnTold, ...] = ()


@dataclass(frozen=True)
class Pick:
    """What is chosen for a variant of some mix. sequence: the number of the order, 0 where there is none.

    stages: which alternative each stage of the chain is. values: of every entry of `vary`. place: as `Variant` has it,
    without the mix.
    """

    sequence: int
    stages: tuple[int, ...]
    values: tuple[SettingValue, ...]
    place: tuple[int, ...] = ()


def variants(chain: Chain, examined: Examined) -> tuple[Variant, ...]:
    """Every variant that differs in what is heard; of equal ones the first.

    Slowest to fastest: mixes, sequence, the alternatives of each stage in the order of the chain, then `vary`, whose
    last entry changes fastest. Numbers run on from mix to mix, which need not have as many each: where a mix bypasses a
    stage of its own, what is varied there is not heard.
    """
    maker = VariantMaker(chain, examined)
    distinct = [(mix, one) for mix in range(len(chain.mixes)) for one in maker.distinct(mix, _picks(chain))]
    digits = digits_for(len(distinct))
    return tuple(maker.of_mix(one, mix, f"{number:0{digits}d}") for number, (mix, one) in enumerate(distinct, 1))


def digits_for(count: int) -> int:
    """How long the ids of so many variants are."""
    return max(3, len(str(count)))


class VariantMaker:
    """Makes variants of one chain from what is chosen for them, each stage once for every choice of its own values."""

    def __init__(self, chain: Chain, examined: Examined) -> None:
        self._chain = chain
        self._orders = [in_place(chain.stages, chain.sequence, order) for order in chain.sequence or ((),)]
        self._placements = [_placement(chain, mix) for mix in chain.mixes]
        self._givers = [_giver(chain, mix) for mix in range(len(chain.mixes))]
        chains = {giver: chain_of(chain, giver) for giver in dict.fromkeys(self._givers)}
        self._setups = {giver: Setups(one, examined) for giver, one in chains.items()}
        self._distinct: dict[int, tuple[Variant, ...]] = {}
        self._own, self._lacking = own_refs(chain), examined.lacking

    def made(self, pick: Pick, mix: int) -> tuple[object, Variant]:
        """(what is heard of it, the same for equal ones of a mix; the variant of that mix, yet without id)."""
        order, setups = self._orders[pick.sequence], self._setups[self._givers[mix]]
        heard = [setups.heard(stage, pick.stages[stage], pick.values) for stage in order]
        heard = without_buses_off(heard) if self._chain.buses else heard
        turns = _turns(self._chain, heard)
        audible = [one.sound for one in heard if one.sound is not None]
        key = (*audible, *((t.setting, t.side, t.direction, _audible_number(heard, t.stage), t.ride) for t in turns))
        stages, own = tuple(one.setup for one in heard), own_told(self._own, heard, self._lacking) if self._own else ()
        return key, Variant("", mix, _varied(self._chain, heard, pick), stages, turns, pick.place, own=own)

    def giver(self, mix: int) -> int:
        """The first mix with the same settings: what is made of them is made once."""
        return self._givers[mix]

    def distinct(self, mix: int, picks: Iterable[Pick]) -> tuple[Variant, ...]:
        """Those that differ in what is heard of a mix, yet without ids; made once for mixes with the same settings."""
        giver = self._givers[mix]
        if giver not in self._distinct:
            found: dict[object, Variant] = {}
            for pick in picks:
                heard, variant = self.made(pick, mix)
                found.setdefault(heard, variant)
            self._distinct[giver] = tuple(found.values())
        return self._distinct[giver]

    def of_mix(self, variant: Variant, mix: int, id: str) -> Variant:
        """One that was made with a mix's settings as a variant of that mix, with its rides where they are there."""
        stages = self._placements[mix](variant.stages)
        place, main = (mix, *variant.place), self._chain.main_of(mix)
        return replace(variant, id=id, mix=mix, stages=stages, place=place, main=main)


def _giver(chain: Chain, mix: int) -> int:
    """The first mix with the settings that a mix has: all that have none of their own share them."""
    main = chain.main_of(mix)
    settings = chain.mixes[mix if main is None else main].settings
    own = (number for number, one in enumerate(chain.mixes) if one.settings_from is None)
    return next(number for number in own if chain.mixes[number].settings == settings)


def _placement(chain: Chain, mix: Mix) -> Callable[[tuple[StageSetup, ...]], tuple[StageSetup, ...]]:
    """Puts the rides of stages where they are in one mix."""
    if not chain.rides:
        return lambda stages: stages
    spans = {ride.name: spans_in(ride, mix) for ride in chain.rides}

    @cache
    def placed(setup: StageSetup) -> StageSetup:
        return replace(setup, rides=tuple(replace(ride, spans_s=spans[ride.name]) for ride in setup.rides))

    return lambda stages: tuple(placed(setup) for setup in stages)


def _picks(chain: Chain) -> Iterator[Pick]:
    """Every combination, the last axis fastest."""
    axes = [range(len(chain.sequence) or 1), *(range(len(stage.choices)) for stage in chain.stages)]
    axes += [range(len(axis.values)) for axis in chain.vary]
    last = 1 + len(chain.stages)
    swapped = [1 + number for number, stage in enumerate(chain.stages) if stage.alternatives]
    told = [*([0] if chain.sequence else []), *swapped, *range(last, len(axes))]
    for numbers in itertools.product(*axes):
        values = tuple([axis.values[number] for axis, number in zip(chain.vary, numbers[last:], strict=True)])
        yield Pick(numbers[0], numbers[1:last], values, tuple([numbers[axis] for axis in told]))


def _varied(chain: Chain, heard: list[Heard], pick: Pick) -> dict[str, str]:
    """What was chosen, as written, without what is not heard."""
    told: dict[str, str] = {}
    if chain.sequence:
        order: Order = chain.sequence[pick.sequence]
        told["sequence"] = in_words(order)
    by_name = {one.setup.name: one for one in heard}
    told.update({s.name: by_name[s.name].setup.label for s in chain.stages
                 if s.alternatives and s.name in by_name and by_name[s.name].sound is not None})  # fmt: skip
    for number, axis in enumerate(chain.vary):
        if axis.ref.stage in by_name and number in by_name[axis.ref.stage].axes:
            told[str(axis.ref)] = pick.values[number].text
    return told


def _turns(chain: Chain, heard: list[Heard]) -> tuple[Turn, ...]:
    numbers = {one.setup.name: number for number, one in enumerate(heard)}
    found = []
    for reach in chain.reach:
        processor = heard[numbers[reach.by.stage]].choice
        found.append(Turn(numbers[reach.by.stage], setting_of(processor, reach.by), reach.by.side,
                          direction_of(processor, reach.by), str(reach.by), reach.by.ride,
                          -1 if counts_down(processor, reach.by) else 1))  # fmt: skip
    return tuple(found)


def _audible_number(heard: list[Heard], stage: int) -> int:
    return sum(one.sound is not None for one in heard[:stage])
