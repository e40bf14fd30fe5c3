"""Targets that cannot be met together: one is given up, the others are met."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sweeper.plan.conceded import NOT_TOGETHER, Conceded, ask_others, conceded
from sweeper.plan.joint import Joint, JointLanded, JointPass, ask_joint, tell_joint
from sweeper.plan.reach import MOST_PASSES, Direction, Ending, Goal, Search

LOUDNESS = Goal("loudness -10", 0.1, one_sided=False)
PEAK = Goal("true peak -1", 0.1, one_sided=True, value=-1.0)
ATTENUATION = Goal("attenuation 3", 0.1, one_sided=False)
MISSED, MET = Ending.OUT_OF_REACH, Ending.ON_TARGET


def searches(*goals: Goal) -> tuple[Search, ...]:
    ranges = {LOUDNESS: (-40.0, 40.0), PEAK: (-24.0, 0.0), ATTENUATION: (-40.0, 40.0)}
    return tuple(Search((goal,), *ranges[goal], 0.0, Direction.UNKNOWN if goal is PEAK else Direction.RAISE, True)
                 for goal in goals)  # fmt: skip


def landed_on(joint: Joint, *endings: Ending, chosen: int = -1) -> JointLanded:
    return JointLanded(joint.passes[chosen], tuple((ending, "") for ending in endings))


@pytest.mark.parametrize(("excess", "endings", "number"), [
    ((0.4, 0.3, -3.0), (MISSED, MISSED, MISSED), 2),
    ((0.4, -0.05, -0.3), (MISSED, MET, MISSED), 0),
    ((0.0, 0.3, -3.0), (MET, MISSED, MISSED), 2),
    ((0.0, -0.05, -3.0), (MET, MET, MISSED), None),
    ((0.2, 3.0, 0.0), (MISSED, MISSED, MET), None),
])  # fmt: skip
def test_the_one_that_is_missed_by_most_is_given_up_but_no_bound_and_none_that_is_missed_alone(excess, endings, number):
    joint = Joint(searches(LOUDNESS, PEAK, ATTENUATION), (JointPass((1.0, -1.0, 2.0), tuple((e,) for e in excess)),))
    given_up = conceded(joint, landed_on(joint, *endings))
    assert (given_up.number if given_up else None) == number


def test_a_target_with_a_bound_of_its_own_is_not_given_up_or_nobody_would_mind_the_bound():
    floor = Goal("crest >= 8 dB", 0.1, one_sided=True)
    loud, peak, inside = searches(LOUDNESS, PEAK, ATTENUATION)
    one = JointPass((1.0, -1.0, 2.0), ((0.4,), (-0.05,), (-3.0, -0.2)))
    joint = Joint((loud, peak, replace(inside, goals=(ATTENUATION, floor))), (one,))
    assert conceded(joint, landed_on(joint, MISSED, MET, MISSED)) is None


def test_none_is_given_up_once_there_are_no_passes_left():
    one = JointPass((1.0, -1.0, 2.0), ((0.4,), (0.3,), (-3.0,)))
    joint = Joint(searches(LOUDNESS, PEAK, ATTENUATION), (one,) * MOST_PASSES)
    assert conceded(joint, landed_on(joint, MISSED, MISSED, MISSED)) is None


def never_attenuates(drive: float, ceiling: float, trim: float) -> tuple[tuple[float, ...], ...]:
    """A gain, and behind it a limiter at which hardly anything arrives: its attenuation is 0 whatever is done."""
    return (drive + trim - 4.0,), (min(drive + trim - 4.5, ceiling + 1.0),), (-3.0,)


def ran(joint: Joint, curves) -> tuple[JointLanded, Conceded | None, JointLanded | None]:
    """Until all land, then without one where they miss."""
    while not isinstance(landed := ask_joint(joint), JointLanded):
        joint = tell_joint(joint, JointPass(landed, curves(*landed)))
    given_up = conceded(joint, landed)
    others = None
    while given_up is not None and not isinstance(others := ask_others(given_up), JointLanded):
        assert others[given_up.number] == given_up.held.at[given_up.number], "its setting stays"
        joint = tell_joint(given_up.joint, JointPass(others, curves(*others)))
        given_up = replace(given_up, joint=joint)
        assert len(joint.passes) <= given_up.since + 4
    return landed, given_up, others


def test_what_nothing_moves_keeps_the_others_from_nothing():
    first, given_up, landed = ran(Joint(searches(LOUDNESS, PEAK, ATTENUATION)), never_attenuates)
    assert [ending for ending, _ in first.endings].count(MISSED) > 1, "or this test shows nothing"
    assert given_up is not None
    assert landed is not None
    assert landed.endings[2] == (MISSED, NOT_TOGETHER)
    assert landed.endings[0][0] is MET
    assert landed.endings[1][0] in (MET, Ending.NOT_ENGAGED)
    loud, peak, _ = never_attenuates(*landed.chosen.at)
    assert abs(loud[0]) <= 0.1
    assert peak[0] <= 0.0
    assert landed.chosen in given_up.joint.passes


def test_only_passes_in_which_its_setting_stood_there_are_gone_by_and_the_best_of_them_last():
    """The loudness of two passes with the other trim would say that drive makes it quieter."""
    passes = tuple(JointPass((drive, -1.0, trim), ((loud,), (-0.05,), (-3.0,)))
                   for drive, trim, loud in ((0.0, 9.0, 5.0), (2.0, 0.0, -2.0), (1.0, 0.0, -3.0)))  # fmt: skip
    joint = Joint(searches(LOUDNESS, PEAK, ATTENUATION), passes)
    given_up = conceded(joint, landed_on(joint, MISSED, MISSED, MISSED, chosen=1))
    assert given_up is not None
    asked = ask_others(given_up)
    assert not isinstance(asked, JointLanded)
    assert asked[0] == pytest.approx(4.0, abs=0.3)
    assert asked[2] == 0.0
