from __future__ import annotations

from sweeper.chain.model import Mark, Preference
from sweeper.verdict import Candidate, ranked

HERE = Mark(1, 1)
CREST = Preference("crest_db", True, HERE)
LOSS = Preference("mono_loss_lu", False, HERE)


def candidate(id, crest=10.0, loss=1.0, fits=True, done=True):
    return Candidate(id, done, fits, {"crest_db": crest, "mono_loss_lu": loss})


def test_without_preferences_the_files_order_stays_unranked():
    assert ranked([candidate("b"), candidate("a")], []) == (("b", None, None), ("a", None, None))


def test_highest_first():
    assert ranked([candidate("a", 9), candidate("b", 11)], [CREST]) == (("b", 1, None), ("a", 2, None))


def test_the_second_preference_decides_between_equals():
    found = ranked([candidate("a", 9, loss=2), candidate("b", 9, loss=1), candidate("c", 10, loss=3)], [CREST, LOSS])
    assert [id for id, _, _ in found] == ["c", "b", "a"]


def test_what_breaks_a_limit_comes_after_and_has_no_rank():
    assert ranked([candidate("a", 20, fits=False), candidate("b", 9)], [CREST]) == (("b", 1, None), ("a", None, None))


def test_failed_variants_come_last():
    found = ranked([Candidate("x", False, False, {}), candidate("a", 1, fits=False), candidate("b", 9)], [CREST])
    assert [id for id, _, _ in found] == ["b", "a", "x"]


def test_a_missing_measurement_ranks_behind_every_other():
    assert [id for id, _, _ in ranked([candidate("a", None), candidate("b", 1)], [CREST])] == ["b", "a"]


def test_equals_keep_the_files_order():
    assert [id for id, _, _ in ranked([candidate("b", 9), candidate("a", 9)], [CREST])] == ["b", "a"]


def test_of_several_preferences_what_nothing_beats_comes_first_then_what_only_that_beats():
    found = ranked([candidate("beaten", 11, loss=2.5), candidate("punch", 12, loss=2), candidate("mono", 9, loss=0.5),
                    candidate("between", 10, loss=1), candidate("last", 8, loss=3)], [CREST, LOSS])  # fmt: skip
    assert found == (("punch", 1, 1), ("between", 2, 1), ("mono", 3, 1), ("beaten", 4, 2), ("last", 5, 3))


def test_a_later_preference_counts_although_the_first_never_is_quite_equal():
    found = ranked([candidate("a", 9.14, loss=2), candidate("b", 8.96, loss=0.1)], [CREST, LOSS])
    assert found == (("a", 1, 1), ("b", 2, 1))


def test_what_is_nearer_than_a_reach_lands_counts_as_equal_between_fronts():
    found = ranked([candidate("a", 9.01, loss=2), candidate("b", 9.0, loss=0.1)], [CREST, LOSS])
    assert found == (("b", 1, 1), ("a", 2, 2))


def test_what_lacks_a_measurement_is_behind_all_that_have_both_and_what_does_not_fit_is_on_no_front():
    found = ranked([candidate("silent", None, loss=0.0), candidate("a", 9, loss=1), candidate("b", 8, loss=2),
                    candidate("out", 20, loss=0.0, fits=False)], [CREST, LOSS])  # fmt: skip
    assert found == (("a", 1, 1), ("b", 2, 2), ("silent", 3, 3), ("out", None, None))
