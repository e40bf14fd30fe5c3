"""What was decided by ear, in words and for JSON."""

from __future__ import annotations

from rich.markup import escape

from sweeper.audition.chance import chance_words, guessing_probability
from sweeper.audition.taken_in import TakenIn
from sweeper.cli.show_run import shown_path
from sweeper.cli.streams import out
from sweeper.records.picks import VERDICTS, Pick, Picks, Trial
from sweeper.table.picks import notes_words, pick_data, rated_words, unfinished_words


def pick_lines(picks: Picks | None) -> list[str]:
    """Verdicts, notes, forced choices with how likely guessing does as well, rankings with their circles; what is not
    finished, and what was rated beside variants."""
    if picks is None:
        return []
    lines = []
    for word in VERDICTS:
        ids = sorted(id for id, one in picks.of_variants.items() if one.verdict == word)
        lines += [f"by ear, {word}: {', '.join(ids)}"] if ids else []
    lines += [f"{id}: {notes_words(one.notes)}" for id, one in sorted(picks.of_variants.items()) if one.notes]
    lines += [rated_words(id, one) for id, one in sorted(picks.of_others.items()) if one.verdict or one.notes]
    lines += [f"{one.a} or {one.b}: {chance_words(one)}" for one in picks.trials]
    lines += [unfinished_words(begun) for begun in picks.unfinished]
    for mix, ranking in sorted(picks.ranking.items()):
        circles = f" ({len(ranking.inconsistent)} inconsistent)" if ranking.inconsistent else ""
        lines.append(f"ranked by pairs, mix {mix}: {', '.join(ranking.order)}{circles}")
    return lines


def picks_answer(picks: Picks | None, taken: TakenIn | None) -> dict[str, object]:
    """For JSON: `picked_by_ear`, null where nobody has listened; `taken_in` where a file was."""
    answer: dict[str, object] = {"picked_by_ear": None if picks is None else _data(picks)}
    if taken is not None:
        answer["taken_in"] = {"notes_file": str(taken.path), "decided": list(taken.decided),
                              "changed": dict(taken.changed), "rated": list(taken.rated),
                              "ranked": list(taken.ranked), "notes": taken.notes,
                              "trials": taken.trials}  # fmt: skip
    return answer


def show_taken_in(taken: TakenIn) -> None:
    """What a file brought."""
    words = [f"{len(taken.decided)} new verdicts"] if taken.decided else []
    words += [f"{id} was {before}" for id, before in taken.changed.items()]
    words += [f"{', '.join(taken.rated)} rated"] if taken.rated else []
    words += [f"another ranking of mix {', '.join(taken.ranked)}"] if taken.ranked else []
    words += [f"{taken.notes} new notes"] if taken.notes else []
    words += [f"{taken.trials} forced choices"] if taken.trials else []
    told = ", ".join(words) or "nothing that was not there already"
    out().print(escape(f"taken in: {told}  ({shown_path(taken.path)})"), soft_wrap=True)


def _data(picks: Picks) -> dict[str, object]:
    return {
        "revision": picks.revision, "saved": picks.saved,
        "picks": {id: _pick(one) for id, one in picks.of_variants.items()},
        "rated": {id: _pick(one) for id, one in picks.of_others.items()},
        "trials": [_trial(one) for one in picks.trials],
        "ranking": {mix: {"order": list(one.order), "inconsistent": [list(each) for each in one.inconsistent]}
                    for mix, one in picks.ranking.items()},
        "unfinished": [{"mix": one.mix, "sounds": list(one.sounds), "answered": one.answered, "of": one.of or None}
                       for one in picks.unfinished],
    }  # fmt: skip


def _pick(one: Pick) -> dict[str, object]:
    told = pick_data(one)
    return {"verdict": told["pick"], "notes": told["listening_notes"]}


def _trial(one: Trial) -> dict[str, object]:
    return {"a": one.a, "b": one.b, "right": one.right, "of": one.of, "planned": one.planned or None, "when": one.when,
            "ended_early": one.early, "guessing_probability": guessing_probability(one.right, one.of)}  # fmt: skip
