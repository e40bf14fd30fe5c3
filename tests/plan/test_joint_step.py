"""The smallest move that should meet several targets at once."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sweeper.plan.joint import Joint, JointLanded, JointPass, ask_joint, tell_joint
from sweeper.plan.joint_step import smallest_step
from sweeper.plan.reach import Direction, Ending, Goal, Search

LOUDNESS = Goal("loudness -10", 0.1, one_sided=False)
PEAK = Goal("true peak -1", 0.1, one_sided=True, value=-1.0)
ATTENUATION = Goal("attenuation 3", 0.1, one_sided=False)
SEARCHES = (
    Search((LOUDNESS,), -40, 40, 0.0, Direction.RAISE, True), Search((PEAK,), -24, 0, -2.0, Direction.UNKNOWN, True),
    Search((ATTENUATION,), -40, 40, 0.0, Direction.RAISE, True),
)  # fmt: skip
#: As a clipper's drive, a limiter's ceiling and its input trim were measured to act on a real track.
COUPLED = np.array([[0.80, 0.50, 0.63], [0.10, 1.00, 0.0], [0.34, -0.40, 0.85]])
HOME = np.array([-1.0, -3.0, 7.0])


def excess(*at: float) -> tuple[tuple[float, ...], ...]:
    return tuple((float(e),) for e in COUPLED @ (np.array(at) - HOME) - [0.0, 0.05, 0.0])


def made(*ats: tuple[float, ...]) -> tuple[JointPass, ...]:
    return tuple(JointPass(at, excess(*at)) for at in ats)


AROUND = ((-0.4, -3.2, 6.2), (-1.6, -2.8, 7.4), (-0.6, -2.9, 7.6), (-1.4, -3.3, 6.6))


def test_where_the_slopes_are_known_everything_is_met():
    ats = smallest_step(SEARCHES, made(*AROUND))
    assert ats is not None
    loud, peak, attenuation = (e[0] for e in excess(*ats))
    assert abs(loud) <= 0.1
    assert -0.1 <= peak <= 0.0
    assert abs(attenuation) <= 0.1


def test_nothing_is_moved_further_than_it_has_to_be():
    """Half of what counts as met is kept free, a quarter on either side: 0.05 dB of the loudness are still wanted."""
    one = Search((LOUDNESS,), -40, 40, 0.0, Direction.RAISE, True)
    passes = (JointPass((0.0,), ((-2.0,),)), JointPass((1.0,), ((-1.0,),)))
    assert smallest_step((one,), passes) == pytest.approx((1.95,), abs=0.02)


def test_where_it_leads_far_away_it_is_not_gone():
    weak = 0.05 * COUPLED
    passes = tuple(JointPass(at, tuple((float(e),) for e in weak @ (np.array(at) - HOME) + [2.0, -0.05, -2.0]))
                   for at in AROUND)  # fmt: skip
    assert smallest_step(SEARCHES, passes) is None


def test_silence_and_what_moves_nothing_have_no_step():
    assert smallest_step(SEARCHES, (JointPass((0.0, -2.0, 0.0), ((-np.inf,), (-1.0,), (0.0,))),)) is None
    unmoved = tuple(replace(search, decibels=False, slope=None) for search in SEARCHES)
    assert smallest_step(unmoved, (JointPass((0.0, -2.0, 0.0), ((1.0,), (1.0,), (1.0,))),)) is None


@pytest.mark.parametrize("start", [(-0.4, -3.2, 6.2), (-3.0, -2.0, 9.0), (1.0, -3.5, 6.0), (-2.0, -4.0, 8.5)])
def test_settings_that_act_on_each_others_targets_land_in_few_passes(start):
    joint = Joint(tuple(replace(search, start=at) for search, at in zip(SEARCHES, start, strict=True)))
    while not isinstance(asked := ask_joint(joint), JointLanded):
        joint = tell_joint(joint, JointPass(asked, excess(*asked)))
    assert [ending for ending, _ in asked.endings] == [Ending.ON_TARGET] * 3
    assert len(joint.passes) <= 6
