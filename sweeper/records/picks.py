"""What a listener decided: verdicts and notes, forced-choice trials, a ranking by pairs; as plain values."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

SCHEMA = 1
KEEP, MAYBE, DROP = "keep", "maybe", "drop"
VERDICTS = (KEEP, MAYBE, DROP)
#: What a document may hold; far beyond what anybody writes, and short of what would do harm.
LONGEST_TEXT, MOST_ENTRIES, MOST_TRIALS = 10_000, 10_000, 100_000


@dataclass(frozen=True)
class Note:
    """What was written. at_s: where in the music, None = of the whole."""

    at_s: float | None
    text: str


@dataclass(frozen=True)
class Pick:
    """What was decided of one sound. verdict: "keep", "maybe", "drop", or "" = only notes."""

    verdict: str
    notes: tuple[Note, ...] = ()


@dataclass(frozen=True)
class Trial:
    """A session of forced choices between two sounds: right so many times of so many. when: date and time.

    planned: how many there should have been, 0 = not known. Where it is more, it was ended early.
    """

    a: str
    b: str
    right: int
    of: int
    when: str = ""
    planned: int = 0

    @property
    def early(self) -> bool:
        """Whether it ended before it should have: whoever ends when it looks good makes luck look like hearing."""
        return self.planned > self.of


@dataclass(frozen=True)
class Ranking:
    """An order found by pairs, best first. inconsistent: circles in what was preferred, A over B over C over A."""

    order: tuple[str, ...]
    comparisons: tuple[tuple[str, str, str], ...] = ()
    inconsistent: tuple[tuple[str, ...], ...] = ()


@dataclass(frozen=True)
class Unfinished:
    """What was begun between some sounds and not ended. of: trials of a forced choice; 0 = it is a ranking."""

    mix: str
    sounds: tuple[str, ...]
    answered: int
    of: int = 0


@dataclass(frozen=True)
class Picks:
    """Everything that was decided of a run. run: its identity. picks: of variants, and what else was rated, by id.
    ranking: by the number of the mix."""

    run: str
    revision: int = 0
    saved: str = ""
    picks: Mapping[str, Pick] = field(default_factory=dict)
    trials: tuple[Trial, ...] = ()
    ranking: Mapping[str, Ranking] = field(default_factory=dict)
    unfinished: tuple[Unfinished, ...] = ()

    @property
    def of_variants(self) -> dict[str, Pick]:
        """What was decided of variants: only these can be picked."""
        return {id: one for id, one in self.picks.items() if is_variant(id)}

    @property
    def of_others(self) -> dict[str, Pick]:
        """What was rated or noted beside them: the untouched mix, a hidden reference while names were hidden."""
        return {id: one for id, one in self.picks.items() if not is_variant(id)}

    @classmethod
    def from_data(cls, data: object) -> Picks:
        """The document of schema 1 as JSON has it; keys that this version does not know are passed over.

        Raises ValueError that says what in it is wrong.
        """
        whole = _mapping(data, "the document")
        if whole.get("schema") != SCHEMA:
            raise ValueError(f"it is of schema {whole.get('schema')!r}, here {SCHEMA} is read")
        return cls(
            run=_text(whole.get("run"), "run"), revision=_count(whole.get("revision", 0), "revision"),
            saved=_text(whole.get("saved", ""), "saved"),
            picks={_text(id, "a pick's id"): _pick(one, f"the pick of {id}")
                   for id, one in _mapping(whole.get("picks", {}), "picks").items()},
            trials=tuple(_trial(one) for one in _list(whole.get("trials", []), "trials", MOST_TRIALS)),
            ranking={_text(mix, "a mix's number"): _ranking(one, f"the ranking of mix {mix}")
                     for mix, one in _mapping(whole.get("ranking", {}), "ranking").items()},
            unfinished=tuple(begun for mix, one in _mapping(whole.get("unfinished", {}), "unfinished").items()
                             for begun in _unfinished(_text(mix, "a mix's number"), one)),
        )  # fmt: skip


def is_variant(id: str) -> bool:
    """Whether that is the id of a variant, which has digits only; of a mix, a reference or a preview it has a word."""
    return id.isdigit()


def _pick(data: object, what: str) -> Pick:
    one = _mapping(data, what)
    verdict = one.get("verdict") or ""
    if verdict not in ("", *VERDICTS):
        raise ValueError(f"{what} has the verdict {verdict!r}, not one of {', '.join(VERDICTS)}")
    return Pick(str(verdict), tuple(_note(note, what) for note in _list(one.get("notes", []), f"the notes of {what}")))


def _note(data: object, what: str) -> Note:
    one = _mapping(data, f"a note of {what}")
    at_s = one.get("at_s")
    if at_s is not None and (isinstance(at_s, bool) or not isinstance(at_s, int | float) or not 0 <= at_s < math.inf):
        raise ValueError(f"a note of {what} is at {at_s!r}, not a time in seconds")
    return Note(None if at_s is None else float(at_s), _text(one.get("text"), f"a note of {what}"))


def _trial(data: object) -> Trial:
    one = _mapping(data, "a trial")
    right, of = _count(one.get("right"), "right of a trial"), _count(one.get("of"), "of of a trial")
    if right > of:
        raise ValueError(f"a trial has {right} right of {of}")
    return Trial(_text(one.get("a"), "a of a trial"), _text(one.get("b"), "b of a trial"), right, of,
                 _text(one.get("when", ""), "when of a trial"),
                 _count(one.get("planned", 0), "planned of a trial"))  # fmt: skip


def _unfinished(mix: str, data: object) -> list[Unfinished]:
    one, found = _mapping(data, f"what is unfinished of mix {mix}"), []
    if "choice" in one:
        begun = _mapping(one["choice"], f"the unfinished choice of mix {mix}")
        right, answered, of = (_count(begun.get(key), f"{key} of an unfinished choice")
                               for key in ("right", "answered", "of"))  # fmt: skip
        if not right <= answered <= of:
            raise ValueError(f"an unfinished choice has {right} right of {answered} of {of}")
        sounds = tuple(_text(begun.get(key), f"{key} of an unfinished choice") for key in "ab")
        found.append(Unfinished(mix, sounds, answered, of))
    if "ranking" in one:
        begun = _mapping(one["ranking"], f"the unfinished ranking of mix {mix}")
        answers = _list(begun.get("answers"), f"the answers of the unfinished ranking of mix {mix}")
        if any(len(_texts(each, "an answer of an unfinished ranking")) != 3 for each in answers):
            raise ValueError(f"an answer of the unfinished ranking of mix {mix} is not two sounds and one of them")
        found.append(Unfinished(mix, tuple(_texts(begun.get("sounds"), "its sounds")), len(answers)))
    return found


def _ranking(data: object, what: str) -> Ranking:
    one = _mapping(data, what)
    compared = [tuple(_texts(each, f"a comparison of {what}"))
                for each in _list(one.get("comparisons", []), f"the comparisons of {what}")]  # fmt: skip
    if any(len(each) != 3 or each[2] not in each[:2] for each in compared):
        raise ValueError(f"a comparison of {what} is not two sounds and which of them was preferred")
    circles = _list(one.get("inconsistent", []), f"what is inconsistent in {what}")
    return Ranking(tuple(_texts(one.get("order", []), f"the order of {what}")),
                   tuple((each[0], each[1], each[2]) for each in compared),
                   tuple(tuple(_texts(each, f"a circle of {what}")) for each in circles))  # fmt: skip


def _mapping(data: object, what: str) -> Mapping[str, Any]:
    if not isinstance(data, Mapping) or not all(isinstance(key, str) for key in data) or len(data) > MOST_ENTRIES:
        raise ValueError(f"{what} is not what it should be: {str(data)[:60]!r}")
    return data


def _list(data: object, what: str, most: int = MOST_ENTRIES) -> list[Any]:
    if not isinstance(data, list) or len(data) > most:
        raise ValueError(f"{what} is no list of at most {most}")
    return data


def _texts(data: object, what: str) -> list[str]:
    return [_text(one, what) for one in _list(data, what)]


def _text(data: object, what: str) -> str:
    if not isinstance(data, str) or len(data) > LONGEST_TEXT:
        raise ValueError(f"{what} is no text of at most {LONGEST_TEXT} letters")
    return data


def _count(data: object, what: str) -> int:
    if isinstance(data, bool) or not isinstance(data, int) or not 0 <= data < 2**53:
        raise ValueError(f"{what} is {data!r}, not a count")
    return data
