"""The few that are worth hearing: picked so that they differ, each with why, and which nobody will hear apart."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace

from sweeper.chain.model import Preference
from sweeper.render.matched_null import STRETCH_S
from sweeper.shortlist.apart import NotApart, Repeatability, identical_groups, listed, listed_pairs, not_apart
from sweeper.shortlist.contender import Contender
from sweeper.shortlist.likeness import NEAR_NULL_DB, NEAR_SETTINGS, Likeness, Likenesses
from sweeper.shortlist.picking import Entry, Part, Picked
from sweeper.shortlist.words import why_passed, why_picked
from sweeper.table.row import Row
from sweeper.verdict import merits

#: What a near-duplicate is, for people.
RULE = (f"near-duplicates: settings within {100 * NEAR_SETTINGS:.0f} % of each control's way, and a level-matched null "
        f"of {NEAR_NULL_DB:.0f} dB or deeper in the {STRETCH_S:.0f} s that differ most")  # fmt: skip


@dataclass(frozen=True)
class Choice:
    """What was chosen. keep: how many of each mix were asked for; None = none were, then nothing is picked.

    picked: ids, in the order of the rows. why: of those picked and passed over, by id. not_apart: who sounds the same.
    likenesses: the pairs that were looked at. notes: what to know of it, in words.
    """

    keep: int | None = None
    picked: tuple[str, ...] = ()
    why: Mapping[str, str] = field(default_factory=dict)
    not_apart: tuple[NotApart, ...] = ()
    likenesses: tuple[Likeness, ...] = ()
    notes: tuple[str, ...] = ()

    def as_data(self) -> dict[str, object]:
        """For `run.json` and `--json`."""
        return {
            "keep": self.keep, "picked": list(self.picked), "why": dict(self.why),
            "near_duplicate": {"settings_distance": NEAR_SETTINGS, "null_db": NEAR_NULL_DB},
            "pairs": [one.as_data() for one in self.likenesses],
            "not_to_be_heard_apart": [{"variants": list(one.ids), "why": one.why} for one in self.not_apart],
            "notes": list(self.notes),
        }  # fmt: skip


def chosen(contenders: Sequence[Contender], prefer: Sequence[Preference], keep: int | None, likenesses: Likenesses,
           repeats: Repeatability) -> Choice:  # fmt: skip
    """Pick of each mix. contenders: those that fit, best first."""
    groups = identical_groups(contenders)
    if keep is None:
        return Choice(not_apart=tuple(groups))
    by_id = {one.id: one for one in contenders}
    mixes = list(dict.fromkeys(one.row.mix for one in contenders))
    whys: dict[str, str] = {}
    picks: set[str] = set()
    notes: list[str] = []
    for mix in mixes:
        own = [one for one in contenders if one.row.mix == mix]
        found = likenesses.picked([_entry(one, prefer) for one in own], keep)
        picks |= {pick.id for pick in found.picks}
        whys |= _whys(found, by_id, prefer, likenesses, keep)
        notes += [f"{mix}: {note}" if len(mixes) > 1 else note for note in _filled_up(found)]
    compared = likenesses.compared
    pairs, unknown = not_apart(compared, by_id, repeats)
    notes += [*_alike_from_afar(compared, picks), *_not_compared(compared), *unknown]
    return Choice(keep, tuple(one.id for one in contenders if one.id in picks), whys, (*groups, *pairs), compared,
                  tuple(notes))  # fmt: skip


def with_whys(rows: Sequence[Row], choice: Choice) -> list[Row]:
    """The rows with why each was picked, or passed over."""
    return [replace(row, why=choice.why.get(row.id, "")) for row in rows]


def _entry(one: Contender, prefer: Sequence[Preference]) -> Entry:
    measured = one.row.measurements
    values = {wish.key: measured.compared(wish.key) if measured is not None else None for wish in prefer}
    return Entry(one.id, merits(values, prefer), one.row.front)


def _whys(found: Picked, by_id: Mapping[str, Contender], prefer: Sequence[Preference], likenesses: Likenesses,
          keep: int) -> dict[str, str]:  # fmt: skip
    whys = {id: why_passed(likenesses.of(id, of), of) for id, of in found.passed}
    before: list[Contender] = []
    for pick in found.picks:
        if pick.part is Part.FILLED:
            whys[pick.id] = f"{whys[pick.id]}, to make up {keep}"
        else:
            whys[pick.id] = why_picked(pick, before, by_id, prefer)
            before.append(by_id[pick.id])
    return whys


def _filled_up(found: Picked) -> list[str]:
    twins = sorted(pick.id for pick in found.picks if pick.part is Part.FILLED)
    if not twins:
        return []
    choices = f"{found.different} different choice{'s' if found.different > 1 else ''}"
    are = "is a near-duplicate" if len(twins) == 1 else "are near-duplicates"
    return [f"there {'were' if found.different > 1 else 'was'} only {choices}: {listed(twins)} {are}"]


def _alike_from_afar(likenesses: Sequence[Likeness], picks: Collection[str]) -> list[str]:
    """Those picked that sound alike although their settings lie apart: they are choices, and hardly for the ear."""
    pairs = [f"{one.one} and {one.other} ({one.words})" for one in likenesses
             if one.sounds_alike and not one.near and {one.one, one.other} <= set(picks)]  # fmt: skip
    return [f"far apart in their settings, and alike in sound: {listed_pairs(pairs)}"] if pairs else []


def _not_compared(likenesses: Sequence[Likeness]) -> list[str]:
    """What was told by settings alone, and why."""
    by_why: dict[str, list[str]] = {}
    for one in likenesses:
        if one.why_not and one.near:
            by_why.setdefault(one.why_not, []).append(f"{one.one} and {one.other}")
    return [f"not compared, taken for near-duplicates by their settings alone: {listed_pairs(pairs)} ({why})"
            for why, pairs in by_why.items()]  # fmt: skip
