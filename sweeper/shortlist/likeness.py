"""Which variants are near-duplicates: by their settings and by what a null test of their sound leaves."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from sweeper.render.matched_null import MatchedNull, NullOrder
from sweeper.shortlist.contender import Contender
from sweeper.shortlist.distance import Spans, distance
from sweeper.shortlist.picking import Entry, Picked, pick
from sweeper.workers import Failed

#: Settings so near, as a share of each control's way, may be a near-duplicate. Ours, no source.
NEAR_SETTINGS = 0.1
#: And are one where the null is so deep: a difference in level of 0.09 dB alone leaves as much. Ours, no source.
NEAR_NULL_DB = -40.0
ROUNDING = 1e-9
NOT_KEPT = "sound not kept; recall makes it again"
#: Up to so many that are picked are all compared with each other, far apart in their settings or not: 28 pairs. Ours.
MOST_ALL_COMPARED = 8
#: Of two variants, by the hashes of their sounds.
Known = Mapping[frozenset[str], MatchedNull]
Nulls = Callable[[Sequence[NullOrder]], Sequence[MatchedNull | Failed]]


@dataclass(frozen=True)
class Likeness:
    """How alike two variants are. settings: their distance. null: None = not compared; then why_not says why.

    identical: sample for sample.
    """

    one: str
    other: str
    settings: float
    null: MatchedNull | None = None
    identical: bool = False
    why_not: str = ""

    @property
    def near(self) -> bool:
        """Whether they are near-duplicates; where the sound is not there, by their settings alone."""
        if self.identical:
            return True
        return is_near(self.settings) and (self.null is None or _is_deep(self.null))

    @property
    def sounds_alike(self) -> bool:
        """Whether a null test says so; whatever the settings are."""
        return self.null is not None and _is_deep(self.null)

    @property
    def words(self) -> str:
        """By what they are near-duplicates."""
        if self.identical:
            return "identical, sample for sample"
        if self.null is None:
            return "by its settings alone, not compared"
        return "nothing is left of the null" if self.null.null_db is None else f"null {self.null.null_db:.0f} dB"

    def as_data(self) -> dict[str, object]:
        """For JSON."""
        found = self.null.as_data() if self.null is not None else {"null_db": None, "peak_dbfs": None, "at_s": None}
        return {"variants": [self.one, self.other], "near": self.near, "identical": self.identical,
                "settings_distance": self.settings if math.isfinite(self.settings) else None, **found,
                "not_compared": self.why_not or None}  # fmt: skip


def is_near(settings: float) -> bool:
    """Whether a distance of settings is small."""
    return settings <= NEAR_SETTINGS + ROUNDING


def _is_deep(null: MatchedNull) -> bool:
    return null.null_db is None or null.null_db <= NEAR_NULL_DB


class Likenesses:
    """What is known of pairs of variants; what picking has to know of them is found as it comes up.

    known: null tests of an earlier time. nulls: makes those that are missing. found: gets each new one.
    """

    def __init__(self, contenders: Sequence[Contender], spans: Spans, known: Known, nulls: Nulls,
                 found: Callable[[Contender, Contender, MatchedNull | Failed], None]) -> None:  # fmt: skip
        self._by_id = {one.id: one for one in contenders}
        self._spans = spans
        self._known = known
        self._nulls = nulls
        self._found = found
        self._told: dict[tuple[str, str], Likeness] = {}
        self._wanted: dict[tuple[str, str], NullOrder] = {}
        self._used: dict[tuple[str, str], None] = {}
        self._of_last: set[tuple[str, str]] = set()

    @property
    def compared(self) -> tuple[Likeness, ...]:
        """Every pair that decided what was picked, and is near in its settings or was compared all the same."""
        used = [self._told[pair] for pair in sorted(self._used)]
        return tuple(one for one in used if one.null is not None or is_near(one.settings))

    def picked(self, entries: Sequence[Entry], keep: int) -> Picked:
        """Pick, and compare what that needs, all at once, until nothing new comes up."""
        while True:
            self._of_last.clear()
            found = pick(entries, keep, self._are_near)
            if not self._wanted:
                break
            self._compare()
        if 1 < len(found.picks) <= MOST_ALL_COMPARED:
            for one, other in combinations([pick.id for pick in found.picks], 2):
                self._look_up(_pair(one, other), far_too=True)
                self._of_last.add(_pair(one, other))
            self._compare()
        self._used |= dict.fromkeys(self._of_last)
        return found

    def _compare(self) -> None:
        """Find out what is wanted, all of it side by side."""
        wanted = list(self._wanted.items())
        self._wanted.clear()
        nulls = self._nulls([order for _, order in wanted]) if wanted else []
        for (pair, _), null in zip(wanted, nulls, strict=True):
            self._tell(pair, null)

    def of(self, one: str, other: str) -> Likeness:
        """What is known of two variants that came up. Raises KeyError for others."""
        return self._told[_pair(one, other)]

    def _are_near(self, one: str, other: str) -> bool:
        """Whether they are near-duplicates; not, until it is found out."""
        pair = _pair(one, other)
        self._of_last.add(pair)
        if pair in self._wanted:
            return False
        self._look_up(pair)
        return pair in self._told and self._told[pair].near

    def _look_up(self, pair: tuple[str, str], far_too: bool = False) -> None:
        """Tell a pair from what is known of it, or ask for what has to be found out. far_too: whatever its settings."""
        if pair in self._told and (not far_too or is_near(self._told[pair].settings) or self._told[pair].null):
            return
        one, other = (self._by_id[id] for id in pair)
        apart = distance(one.settings, other.settings, self._spans)
        if one.sound and one.sound == other.sound:
            self._told[pair] = Likeness(*pair, apart, MatchedNull(None, None, 0.0), identical=True)
        elif not is_near(apart) and not far_too:
            self._told[pair] = Likeness(*pair, apart)
        elif (known := self._known.get(frozenset((one.sound, other.sound)))) is not None:
            self._told[pair] = Likeness(*pair, apart, known)
        elif one.render is None or other.render is None:
            self._told[pair] = Likeness(*pair, apart, why_not=NOT_KEPT)
        elif one.row.match_gain_db is None or other.row.match_gain_db is None:
            self._told[pair] = Likeness(*pair, apart, why_not="silence has no level to match")
        else:
            self._wanted[pair] = NullOrder(one.render, other.render, one.row.match_gain_db, other.row.match_gain_db)

    def _tell(self, pair: tuple[str, str], null: MatchedNull | Failed) -> None:
        one, other = (self._by_id[id] for id in pair)
        self._found(one, other, null)
        apart = distance(one.settings, other.settings, self._spans)
        if isinstance(null, Failed):
            self._told[pair] = Likeness(*pair, apart, why_not=getattr(null.error, "what", "") or null.what)
        else:
            self._told[pair] = Likeness(*pair, apart, null)


def _pair(one: str, other: str) -> tuple[str, str]:
    return (one, other) if one < other else (other, one)
