from __future__ import annotations

from sweeper.chain.model import Mark, Preference
from sweeper.verdict import Candidate, ranked

HERE = Mark(1, 1)
CREST = Preference("crest_db", True, HERE)
LOSS = Preference("mono_loss_lu", False, HERE)


def candidate(id, crest=10.0, loss=1.0, fits=True, done=True):
    return Candidate(id, done, fits, {"crest_db": crest, "mono_loss_lu": loss})


def test_without_preferences_the_files_order_stays_unranked():
    assert ranked([candidate("b"), candidate("a")], []) == (("b", None), ("a", None))


def test_highest_first():
    assert ranked([candidate("a", 9), candidate("b", 11)], [CREST]) == (("b", 1), ("a", 2))


def test_the_second_preference_decides_between_equals():
    found = ranked([candidate("a", 9, loss=2), candidate("b", 9, loss=1), candidate("c", 10, loss=3)], [CREST, LOSS])
    assert [id for id, _ in found] == ["c", "b", "a"]


def test_what_breaks_a_limit_comes_after_and_has_no_rank():
    assert ranked([candidate("a", 20, fits=False), candidate("b", 9)], [CREST]) == (("b", 1), ("a", None))


def test_failed_variants_come_last():
    found = ranked([Candidate("x", False, False, {}), candidate("a", 1, fits=False), candidate("b", 9)], [CREST])
    assert [id for id, _ in found] == ["b", "a", "x"]


def test_a_missing_measurement_ranks_behind_every_other():
    assert [id for id, _ in ranked([candidate("a", None), candidate("b", 1)], [CREST])] == ["b", "a"]


def test_equals_keep_the_files_order():
    assert [id for id, _ in ranked([candidate("b", 9), candidate("a", 9)], [CREST])] == ["b", "a"]
