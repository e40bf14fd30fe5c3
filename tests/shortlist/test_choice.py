"""The choice among invented variants whose null tests are invented too: who is picked, and what is said of it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from invented_rows import measured, row

from sweeper.chain.one_condition import read_preference_texts
from sweeper.records import StageRecord
from sweeper.render.matched_null import MatchedNull
from sweeper.shortlist.apart import Repeatability
from sweeper.shortlist.choice import chosen
from sweeper.shortlist.contender import Contender
from sweeper.shortlist.distance import spans_of
from sweeper.shortlist.likeness import Likenesses
from sweeper.table.rows import ranked_by
from sweeper.workers import Cause, Failed

CREST = read_preference_texts(["crest highest"], "--prefer")
BOTH = read_preference_texts(["crest highest", "loudness range lowest"], "--prefer")
STAGE = StageRecord("glue", "Glue", "/p/glue.vst3", "", "", "", "hash", "", "", "stereo", False, 0.0, 0.0, 0, (), ())


def contender(id, crest, threshold, range_lu=5.0, sound="", repeats="", render=True, mix="mix.wav"):
    return Contender(row(id, measured(crest=crest, loudness_range_lu=range_lu), mix=mix), {"glue.threshold": threshold},
                     sound or f"sound {id}", lambda: (replace(STAGE, repeats=repeats),),
                     Path(f"{id}.wav") if render else None)  # fmt: skip


class Nulls:
    """What null tests leave, in dB, by pairs of ids; -20 dB for others. peak: 10 dB above."""

    def __init__(self, **left_db):
        self.left_db = {tuple(pair.strip("_").split("_")): db for pair, db in left_db.items()}
        self.asked = []

    def __call__(self, orders):
        pairs = [(order.one.stem, order.other.stem) for order in orders]
        self.asked += pairs
        left = [self.left_db.get(pair, -20.0) for pair in pairs]
        return [db if isinstance(db, Failed) else MatchedNull(db, None if db is None else db + 10, 0.0) for db in left]


def choose(contenders, keep, nulls, prefer=CREST, known=None, once_more=None):
    rows = {one.id: one for one in ranked_by(prefer, [one.row for one in contenders])}
    order = list(rows)
    ready = sorted((replace(one, row=rows[one.id]) for one in contenders), key=lambda one: order.index(one.id))
    spans = spans_of([one.varied for one in contenders])
    likenesses = Likenesses(ready, spans, known or {}, nulls, lambda *_: None)
    return chosen(ready, prefer, keep, likenesses, Repeatability({}, once_more))


FOUR = [contender("001", 12.0, "-10 dB"), contender("002", 11.9, "-10.05 dB"), contender("003", 11.0, "-15 dB"),
        contender("004", 10.0, "-20 dB")]  # fmt: skip


def test_a_near_duplicate_is_passed_over_and_every_choice_has_its_why():
    found = choose(FOUR, 3, Nulls(_001_002=-52.0))
    assert found.picked == ("001", "003", "004")
    assert found.why == {
        "001": "the highest crest of all",
        "002": "near-duplicate of 001 (null -52 dB)",
        "003": "next highest crest that differs: glue.threshold -15 dB (001: -10 dB)",
        "004": "next highest crest: glue.threshold -20 dB (001: -10 dB)",
    }
    assert found.notes == ("whether they can be heard apart is not known, as nobody tried how well their plugins "
                           "repeat themselves: 001 and 002; `sweeper check CHAIN --twice` before a run finds it",)


@pytest.mark.parametrize(("left_db", "picked"), [(-40.0, ("001", "003")), (-39.9, ("001", "002"))])
def test_settings_alone_make_no_near_duplicate_where_the_sound_is_there(left_db, picked):
    assert choose(FOUR, 2, Nulls(_001_002=left_db)).picked == picked


def test_only_near_settings_are_compared_before_it_is_picked():
    many = [contender(f"{n:03d}", 20 - n, f"-{2 * n} dB") for n in range(1, 13)]
    nulls = Nulls()
    assert len(choose(many, 9, nulls).picked) == 9
    assert {int(b) - int(a) for a, b in nulls.asked} == {1}, "2 dB of 22 dB are 9 %"


def test_sound_that_is_alike_although_the_settings_are_not_is_said_and_both_stay():
    found = choose(FOUR, 3, Nulls(_001_003=-60.0), once_more=lambda one: MatchedNull(None, None, 0.0))
    assert found.picked == ("001", "002", "003")
    assert found.notes == ("far apart in their settings, and alike in sound: 001 and 003 (null -60 dB)",)


def test_too_few_choices_are_made_up_for_and_said():
    nulls = Nulls(_001_002=-60.0)
    found = choose(FOUR[:3], 3, nulls, once_more=lambda one: MatchedNull(None, None, 0.0))
    assert found.picked == ("001", "002", "003")
    assert found.why["002"] == "near-duplicate of 001 (null -60 dB), to make up 3"
    assert found.notes == ("there were only 2 different choices: 002 is a near-duplicate",)


def test_between_the_best_of_two_preferences_what_is_given_for_what_is_said():
    found = choose([contender("001", 12.0, "-10 dB", 8.0), contender("002", 11.6, "-14 dB", 5.0),
                    contender("003", 10.0, "-20 dB", 4.0), contender("004", 9.0, "-17 dB", 6.0)], 4, Nulls(), BOTH)
    assert found.picked == ("001", "002", "003", "004")
    assert found.why == {
        "001": "the highest crest of all", "003": "the lowest loudness range of all",
        "002": "on the trade-off front: 0.40 dB less crest than 001 for 3.0 LU less loudness range",
        "004": "behind the trade-off front, next highest crest: glue.threshold -17 dB (001: -10 dB)",
    }  # fmt: skip


def test_what_was_not_kept_is_told_by_its_settings_alone_and_that_is_said():
    gone = [FOUR[0], replace(FOUR[1], render=None), *FOUR[2:]]
    nulls = Nulls()
    found = choose(gone, 3, nulls)
    assert found.picked == ("001", "003", "004")
    assert found.why["002"] == "near-duplicate of 001 (by its settings alone, not compared)"
    assert found.notes == ("not compared, taken for near-duplicates by their settings alone: 001 and 002 "
                           "(sound not kept; recall makes it again)",)  # fmt: skip
    assert ("001", "002") not in nulls.asked


def test_what_was_compared_before_is_remembered_by_its_sound():
    gone = [FOUR[0], replace(FOUR[1], render=None), *FOUR[2:]]
    known = {frozenset(("sound 001", "sound 002")): MatchedNull(-30.0, -20.0, 0.0)}
    assert choose(gone, 3, Nulls(), known=known).picked == ("001", "002", "003")


def test_a_comparison_that_fails_costs_no_more_than_itself():
    broken = Failed("null 0", Cause.CRASHED, "crashed", "", "", (), None)
    found = choose(FOUR, 3, Nulls(_001_002=broken))
    assert found.picked == ("001", "003", "004")
    assert "(crashed)" in found.notes[0]


def test_identical_ones_are_never_two_choices_whatever_their_settings():
    same = [contender("001", 12.0, "-10 dB", sound="x"), contender("002", 12.0, "-20 dB", sound="x"),
            contender("003", 9.0, "-15 dB"), contender("004", 9.0, "-15 dB", sound="x", mix="b.wav")]  # fmt: skip
    nulls = Nulls()
    found = choose(same, 2, nulls)
    assert found.picked == ("001", "003", "004")
    assert [(one.ids, one.why) for one in found.not_apart] == [(("001", "002"), "identical, sample for sample")]
    assert choose(same, None, nulls).not_apart == found.not_apart, "that is told without being asked"


@pytest.mark.parametrize(
    ("repeats", "heard"), [("-45.0 dBFS", False), ("-50.0 dBFS", True), ("identical", True)],
)  # fmt: skip
def test_a_difference_no_larger_than_that_of_two_renders_is_not_heard(repeats, heard):
    # The null is -60 dB, its peak -50 dBFS at a match gain of -2 dB: -48 dBFS as rendered
    pair = [contender("001", 12.0, "-10 dB", repeats=repeats), contender("002", 11.9, "-10.05 dB", repeats=repeats),
            contender("003", 9.0, "-20 dB", repeats=repeats)]  # fmt: skip
    found = choose(pair, 2, Nulls(_001_002=-60.0))
    assert [one.ids for one in found.not_apart] == ([] if heard else [("001", "002")])
    assert found.notes == ()
    if not heard:
        assert found.not_apart[0].why == ("what differs peaks at -48.0 dBFS, and two renders of one of them differ "
                                          "by as much (-45.0 dBFS)")  # fmt: skip


def test_what_is_not_known_of_repeating_is_found_once_for_the_same_plugins():
    asked = []

    def once_more(one):
        asked.append(one.id)
        return MatchedNull(-50.0, -47.0, 0.0)

    three = [contender("001", 12.0, "-10 dB"), contender("002", 11.9, "-10.05 dB"), contender("003", 11.8, "-10.1 dB"),
             contender("004", 9.0, "-20 dB")]  # fmt: skip
    found = choose(three, 2, Nulls(_001_002=-60.0, _001_003=-55.0), once_more=once_more)
    assert asked == ["001"]
    assert [one.ids for one in found.not_apart] == [("001", "002")]
    assert found.picked == ("001", "004")


def test_the_same_but_for_level_is_not_heard_apart():
    found = choose(FOUR, 2, Nulls(_001_002=-150.0))
    assert [(one.ids, one.why) for one in found.not_apart] == [(("001", "002"), "the same but for level")]
