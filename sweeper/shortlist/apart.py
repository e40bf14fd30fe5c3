"""Which variants nobody will hear apart: what differs is no more than what two renders of one of them differ by."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from sweeper.records import StageRecord
from sweeper.render.comparison import STEP_DBFS
from sweeper.render.matched_null import MatchedNull
from sweeper.shortlist.contender import Contender
from sweeper.shortlist.likeness import Likeness
from sweeper.units import parse_amount

IDENTICAL = "identical"
#: The largest samples of the same noise taken twice scatter by so much. Ours, no source.
SCATTER_DB = 1.0
#: Renders a variant once more and takes that from what it was; None = it cannot be.
OnceMore = Callable[[Contender], MatchedNull | None]
#: By what plugins a chain is made of, in their order.
Plugins = tuple[tuple[str, str, str], ...]


@dataclass(frozen=True)
class NotApart:
    """Variants that sound the same. why: by what that is known."""

    ids: tuple[str, ...]
    why: str


@dataclass(frozen=True)
class Floor:
    """What two renders of a chain differ by. peak_dbfs: -inf = in nothing. again: one was rendered for it."""

    peak_dbfs: float
    again: bool = False


def identical_groups(contenders: Sequence[Contender]) -> list[NotApart]:
    """Those of one mix whose sounds are the same, sample for sample."""
    groups: dict[tuple[str, str], list[str]] = {}
    for one in contenders:
        if one.sound:
            groups.setdefault((one.row.mix, one.sound), []).append(one.id)
    return [NotApart(tuple(sorted(ids)), "identical, sample for sample") for ids in groups.values() if len(ids) > 1]


class Repeatability:
    """How well the chains of variants repeat themselves. measured: by their plugins, from an earlier time.

    once_more: None = what is not known stays so.
    """

    def __init__(self, measured: Mapping[Plugins, MatchedNull], once_more: OnceMore | None) -> None:
        self._measured: dict[Plugins, MatchedNull | None] = dict(measured)
        self._once_more = once_more

    def floor(self, one: Contender) -> Floor | None:
        """What two renders of it differ by; None = not known."""
        told = _remembered(one.stages)
        if told is not None or not one.stages:
            return told
        plugins = plugins_of(one.stages)
        if plugins not in self._measured:
            self._measured[plugins] = self._once_more(one) if self._once_more is not None else None
        again = self._measured[plugins]
        if again is None:
            return None
        return Floor(-math.inf if again.peak_dbfs is None else again.peak_dbfs, again=True)


def not_apart(likenesses: Sequence[Likeness], by_id: Mapping[str, Contender],
              repeats: Repeatability) -> tuple[list[NotApart], list[str]]:  # fmt: skip
    """Those of the pairs that sound the same, but for identical ones; and what to say of others.

    A difference is held against the floor as it was before the levels were matched.
    """
    found: list[NotApart] = []
    unknown: list[str] = []
    for pair in likenesses:
        if pair.identical or pair.null is None or not pair.sounds_alike:
            continue
        ids = pair.one, pair.other
        peak = pair.null.peak_dbfs
        if peak is None or peak <= STEP_DBFS:
            found.append(NotApart(ids, "the same but for level"))
            continue
        left_dbfs = peak - min(by_id[id].row.match_gain_db or 0.0 for id in ids)
        floors = [repeats.floor(by_id[id]) for id in ids]
        worst = max((floor for floor in floors if floor is not None), key=lambda floor: floor.peak_dbfs, default=None)
        if worst is not None and left_dbfs <= worst.peak_dbfs + SCATTER_DB:
            found.append(NotApart(ids, f"what differs peaks at {left_dbfs:.1f} dBFS, and two renders of one of them "
                                  f"differ by as much ({worst.peak_dbfs:.1f} dBFS)"))  # fmt: skip
        elif None in floors:
            unknown.append(f"{pair.one} and {pair.other}")
    return found, _not_known(unknown)


def plugins_of(stages: Sequence[StageRecord]) -> Plugins:
    """What a chain is made of, as far as repeating goes."""
    return tuple((stage.plugin, stage.program_sha256, stage.channels) for stage in _heard(stages))


def _remembered(stages: Sequence[StageRecord]) -> Floor | None:
    """The worst that the sheet knows of its stages, from `check --twice`; None where it does not know of each."""
    peaks = [-math.inf]
    for stage in _heard(stages):
        amount = parse_amount(stage.repeats)
        if amount is None and stage.repeats != IDENTICAL:
            return None
        peaks += [] if amount is None else [amount.value]
    return Floor(max(peaks)) if stages else None


def _heard(stages: Sequence[StageRecord]) -> Iterator[StageRecord]:
    """The stages that are rendered here."""
    return (stage for stage in stages if not (stage.bypass or stage.outside or stage.is_fader))


def _not_known(pairs: Sequence[str]) -> list[str]:
    if not pairs:
        return []
    return [f"whether they can be heard apart is not known, as nobody tried how well their plugins repeat themselves: "
            f"{listed_pairs(pairs)}; `sweeper check CHAIN --twice` before a run finds it"]  # fmt: skip


def listed_pairs(pairs: Sequence[str]) -> str:
    """001 and 002; 001 and 003; 002 and 004 and 5 more pairs"""
    more = len(pairs) - 3
    return "; ".join(pairs[:3]) + (f" and {more} more pair{'s' * (more > 1)}" if more > 0 else "")


def listed(ids: Sequence[str]) -> str:
    """001, 002 and 003"""
    return f"{', '.join(ids[:-1])} and {ids[-1]}" if len(ids) > 1 else "".join(ids)
