from __future__ import annotations

import pytest

from sweeper.records.picks import Note, Pick, Picks, Ranking, Trial, Unfinished

WHOLE = {
    "schema": 1, "run": "tin-boats#0123456789ab", "saved": "2026-11-24T18:05:09+00:00", "revision": 7,
    "picks": {"004": {"verdict": "keep", "notes": [{"at_s": 62.5, "text": "snare"}, {"at_s": None, "text": "dull"}]},
              "007": {"verdict": "", "notes": []}},
    "trials": [{"a": "004", "b": "007", "right": 9, "of": 12, "p": 0.073, "when": "2026-11-24T18:00:00+00:00"}],
    "ranking": {"1": {"order": ["004", "007"], "comparisons": [["004", "007", "004"]],
                      "inconsistent": [["004", "007", "009"]]}},
    "unfinished": {"1": {"choice": {"a": "004", "b": "mix-1", "of": 12, "answered": 5, "right": 3, "began": "monday"},
                         "ranking": {"sounds": ["004", "007"], "answers": [["004", "007", "007"]]}}},
    "of a later version": {"kept": "elsewhere"},
}  # fmt: skip


def test_a_document_is_read_as_it_was_written():
    assert Picks.from_data(WHOLE) == Picks(
        "tin-boats#0123456789ab", 7, "2026-11-24T18:05:09+00:00",
        {"004": Pick("keep", (Note(62.5, "snare"), Note(None, "dull"))), "007": Pick("")},
        (Trial("004", "007", 9, 12, "2026-11-24T18:00:00+00:00"),),
        {"1": Ranking(("004", "007"), (("004", "007", "004"),), (("004", "007", "009"),))},
        (Unfinished("1", ("004", "mix-1"), 5, 12), Unfinished("1", ("004", "007"), 1)),
    )  # fmt: skip


def test_only_variants_are_picked_and_a_trial_that_ended_early_says_so():
    picks = Picks.from_data({"schema": 1, "run": "x", "picks": {
        "004": {"verdict": "keep"}, "mix-1": {"verdict": "keep"}, "reference-1-2": {}, "004-mp3": {}},
        "trials": [{"a": "1", "b": "2", "right": 5, "of": 5, "planned": 12}]})  # fmt: skip
    assert (list(picks.of_variants), list(picks.of_others)) == (["004"], ["mix-1", "reference-1-2", "004-mp3"])
    assert picks.trials[0].early and not Trial("1", "2", 5, 5).early


def test_what_was_not_done_may_be_missing():
    assert Picks.from_data({"schema": 1, "run": "x"}) == Picks("x")


@pytest.mark.parametrize(("changed", "what"), [
    ({"schema": 2}, "schema 2"), ({"run": None}, "run is no text"), ({"revision": True}, "revision is True"),
    ({"revision": -1}, "not a count"), ({"picks": []}, "picks is not"), ({"picks": {"1": []}}, "the pick of 1"),
    ({"picks": {"1": {"verdict": "love"}}}, "'love', not one of keep, maybe, drop"),
    ({"picks": {"1": {"notes": [{"at_s": -1, "text": "x"}]}}}, "-1, not a time"),
    ({"picks": {"1": {"notes": [{"at_s": float("inf"), "text": "x"}]}}}, "not a time"),
    ({"picks": {"1": {"notes": [{"at_s": 1, "text": "x" * 10_001}]}}}, "at most 10000 letters"),
    ({"picks": {"1": {"notes": "all good"}}}, "no list"),
    ({"trials": [{"a": "1", "b": "2", "right": 3, "of": 2}]}, "3 right of 2"),
    ({"trials": [{"a": "1", "b": "2", "right": 1.5, "of": 2}]}, "not a count"),
    ({"ranking": {"1": {"comparisons": [["1", "2", "3"]]}}}, "which of them was preferred"),
    ({"ranking": {"1": {"comparisons": [["1", "2"]]}}}, "not two sounds"),
    ({"unfinished": {"1": {"choice": {"a": "1", "b": "2", "right": 3, "answered": 2, "of": 9}}}}, "3 right of 2 of 9"),
    ({"unfinished": {"1": {"ranking": {"sounds": [], "answers": [["1", "2"]]}}}}, "not two sounds and one"),
])  # fmt: skip
def test_what_is_wrong_is_said(changed, what):
    with pytest.raises(ValueError) as caught:
        Picks.from_data({**WHOLE, **changed})
    assert what in str(caught.value)


@pytest.mark.parametrize("data", [None, [], "picks", 1, {1: 2}])
def test_what_is_no_document_is_refused(data):
    with pytest.raises(ValueError, match="the document"):
        Picks.from_data(data)
