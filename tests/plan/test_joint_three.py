"""Three settings solved in the same passes, on models of two stages in a row: loudness, true peak, attenuation."""

from __future__ import annotations

import math
import statistics
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from chain_models import Clipper, Dialled, any_dialled
from hypothesis import example, given, settings
from hypothesis import strategies as st

from sweeper.plan.foreseen import Place, foreseen
from sweeper.plan.joint import Joint, JointLanded, JointPass, ask_joint, distance, slope_at, tell_joint
from sweeper.plan.reach import MOST_PASSES, Direction, Ending, Goal, Search

LOUDNESS = Goal("loudness -10", 0.1, one_sided=False)
PEAK = Goal("true peak -1", 0.1, one_sided=True, value=-1.0)
ATTENUATION = Goal("attenuation 3", 0.1, one_sided=False)
MET = [Ending.ON_TARGET] * 3
Curves = Callable[[float, float, float], tuple[tuple[float, ...], ...]]


def solved(joint: Joint, curves: Curves, step: float = 0.0) -> tuple[JointLanded, Joint]:
    """Run three searches on their curves. step: the settings' own."""
    while not isinstance(proposal := ask_joint(joint), JointLanded):
        at = tuple(round(value / step) * step if step else value for value in proposal)
        for search, value in zip(joint.searches, proposal, strict=True):
            assert search.low <= value <= search.high
        joint = tell_joint(joint, JointPass(at, curves(*at)))
        assert len(joint.passes) <= MOST_PASSES
    assert proposal.chosen in joint.passes
    return proposal, joint


def three(drive: float = 0.0, ceiling: float = 0.0, trim: float = 0.0, stages: tuple[int, int, int] = (1, 1, 0),
          slopes: tuple[float | None, ...] = (None, None, None), bounds: tuple[Goal, ...] = ()) -> Joint:  # fmt: skip
    """Loudness by a drive, true peak by a ceiling, attenuation by an input trim. stages: of each."""
    searches = (Search((LOUDNESS, *bounds), -40, 40, drive, Direction.RAISE, True, slope=slopes[0]),
                Search((PEAK,), -24, 0, ceiling, Direction.UNKNOWN, True, slope=slopes[1]),
                Search((ATTENUATION,), -40, 40, trim, Direction.RAISE, True, slope=slopes[2]))  # fmt: skip
    places = [Place("loudness_lufs", None, stages[0]), Place("true_peak_dbtp", None, stages[1]),
              Place("stage.attenuation_db", stages[2], stages[2])]  # fmt: skip
    return Joint(foreseen(searches, places))


def endings(landed: JointLanded) -> list[Ending]:
    return [ending for ending, _ in landed.endings]


def run(case: Dialled, taught: bool) -> tuple[JointLanded, Joint]:
    stages = (0, 1, 1) if isinstance(case.chain, Clipper) else (1, 1, 0)
    joint = three(*case.start, stages, case.slopes if taught else (None,) * 3)

    def curves(*at: float) -> tuple[tuple[float, ...], ...]:
        loud, peak, attenuation = case.chain.levels(*at)
        return (loud - case.goals[0],), (peak + 1,), (attenuation - case.goals[2],)

    return solved(joint, curves, step=0.01)


def passes_of(cases: int, clips: bool, off_db: tuple[float, float, float], taught: bool) -> list[int]:
    """The passes of those cases in which all three are met, each measured again where it landed."""
    rng = np.random.default_rng(3)
    found = []
    for _ in range(cases):
        case = any_dialled(rng, clips, off_db)
        landed, joint = run(case, taught)
        if endings(landed) == MET:
            loud, peak, attenuation = case.chain.levels(*landed.chosen.at)
            assert abs(loud - case.goals[0]) <= 0.1
            assert -1.1 <= peak <= -1.0
            assert abs(attenuation - case.goals[2]) <= 0.1
            assert landed.chosen is joint.passes[-1]
            found.append(len(joint.passes))
    return found


@pytest.mark.parametrize(("clips", "usual", "most"), [(False, 4, 10), (True, 5, 11)])
def test_from_where_it_was_dialled_by_ear_all_three_are_met_in_few_passes(clips, usual, most):
    """The clipper is the harder case: drive and trim do nearly the same, and the ceiling holds what is attenuated."""
    passes = passes_of(25, clips, (4, 3, 3), taught=False)
    assert len(passes) >= 24
    assert statistics.median(passes) <= usual
    assert np.percentile(passes, 90) <= 2 * usual - 1
    assert max(passes) <= most


@pytest.mark.parametrize("clips", [False, True])
def test_taught_and_within_a_decibel_they_are_met_in_three(clips):
    passes = passes_of(25, clips, (1, 0.5, 1), taught=True)
    assert len(passes) >= 24
    assert statistics.median(passes) <= 3
    assert np.percentile(passes, 90) <= 4
    assert max(passes) <= 8


def plain(drive: float, ceiling: float, trim: float) -> tuple[float, float, float]:
    """Loudness, true peak and attenuation over their goals: a compressor that begins at -2 dB, a limiter behind it."""
    less = 0.5 * 2 * math.log1p(math.exp((trim + 2) / 2))
    held = math.log1p(math.exp(drive + trim - less - 4 - ceiling))
    loud = drive + trim - less - 0.3 * held
    return loud - 5, drive + trim - less - 4 - held + 0.4 + 1, less - 3


def test_what_one_of_them_misses_is_told_of_it_and_the_other_two_land():
    for number, low_high in ((0, (-40.0, 4.0)), (1, (-24.0, -4.0)), (2, (-40.0, 1.5))):
        joint = three()
        short = replace(joint.searches[number], low=low_high[0], high=low_high[1],
                        start=min(low_high[1], joint.searches[number].start))  # fmt: skip
        searches = (*joint.searches[:number], short, *joint.searches[number + 1 :])
        landed, _ = solved(Joint(searches), lambda *at: tuple((e,) for e in plain(*at)))
        missed = Ending.NOT_ENGAGED if number == 1 else Ending.OUT_OF_REACH
        assert endings(landed) == [missed if n == number else Ending.ON_TARGET for n in range(3)]
        assert landed.chosen.at[number] == pytest.approx(low_high[1])
        assert f"{low_high[1]:g}" in landed.endings[number][1]


def test_a_bound_stops_the_drive_and_the_other_two_land():
    floor = Goal("drive <= 2 dB", 0.1, one_sided=True)

    def curves(drive: float, ceiling: float, trim: float) -> tuple[tuple[float, ...], ...]:
        loud, peak, attenuation = plain(drive, ceiling, trim)
        return (loud, drive - 2), (peak,), (attenuation,)

    landed, _ = solved(three(bounds=(floor,)), curves)
    assert endings(landed) == [Ending.STOPPED, Ending.ON_TARGET, Ending.ON_TARGET]
    assert landed.endings[0][1] == "drive <= 2 dB"
    assert 1.9 <= landed.chosen.at[0] <= 2.0


def test_a_ceiling_that_nothing_reaches_stays_where_it_was():
    def curves(drive: float, ceiling: float, trim: float) -> tuple[tuple[float, ...], ...]:
        loud, _, attenuation = plain(drive, 0.0, trim)
        return (loud,), (min(drive + 0.5 * trim - 20, ceiling) + 1,), (attenuation,)

    landed, joint = solved(three(ceiling=-2.0), curves)
    assert endings(landed) == [Ending.ON_TARGET, Ending.NOT_ENGAGED, Ending.ON_TARGET]
    assert landed.chosen.at[1] == -2.0
    assert len(joint.passes) <= 6


def test_the_order_of_the_three_does_not_matter():
    for order in ((0, 1, 2), (2, 0, 1), (1, 2, 0), (2, 1, 0)):
        joint = three()
        shares = [tuple(joint.searches[n].shares[o] for o in order) for n in order]
        searches = tuple(replace(joint.searches[n], shares=s) for n, s in zip(order, shares, strict=True))

        def curves(*at: float, order=order) -> tuple[tuple[float, ...], ...]:
            whole = plain(*(at[order.index(n)] for n in range(3)))
            return tuple((whole[n],) for n in order)

        landed, joint = solved(Joint(searches), curves)
        assert endings(landed) == MET
        assert len(joint.passes) <= 6


def test_silence_ends_at_once():
    landed, joint = solved(three(), lambda *at: ((-math.inf,), (-math.inf,), (-math.inf,)))
    assert endings(landed) == [Ending.OUT_OF_REACH, Ending.NOT_ENGAGED, Ending.OUT_OF_REACH]
    assert len(joint.passes) == 1


def test_slopes_that_are_handed_on_are_those_of_the_curves():
    landed, joint = solved(three(), lambda *at: tuple((e,) for e in plain(*at)))
    at = landed.chosen.at
    for n in (0, 2):
        more = plain(*(value + 0.1 * (n == k) for k, value in enumerate(at)))
        assert slope_at(joint, n, landed.chosen) == pytest.approx((more[n] - plain(*at)[n]) / 0.1, abs=0.15)


@pytest.mark.parametrize("unit", [0.5, 2.0])
def test_what_grows_by_factors_is_landed_on_too(unit):
    """A distortion in per cent, that doubles with every 3 or 12 dB, by a drive in dB."""
    def curves(drive: float, ceiling: float, trim: float) -> tuple[tuple[float, ...], ...]:
        loud, peak, _ = plain(drive, ceiling, trim)
        return (loud,), (peak,), (0.5 * 10 ** (trim / 20 * unit) - 1,)

    joint = three()
    third = replace(joint.searches[2], goals=(Goal("distortion 1", 0.05, one_sided=False),), slope=None)
    landed, joint = solved(Joint((*joint.searches[:2], third)), curves)
    assert endings(landed) == MET
    assert len(joint.passes) <= 9


@settings(deadline=None, max_examples=100)
@given(
    own=st.tuples(st.floats(0.5, 1.0), st.floats(0.8, 1.0), st.floats(0.4, 1.0)),
    louder=st.tuples(st.floats(0.0, 0.4), st.floats(0.2, 0.8)), peak=st.tuples(st.floats(0, 0.2), st.floats(0, 0.2)),
    less=st.tuples(st.floats(0.0, 0.2), st.floats(-0.4, 0.0)), bend=st.floats(0.0, 0.2),
    at=st.tuples(st.floats(-4, 10), st.floats(-4, -1), st.floats(-4, 8)), start=st.floats(-6, 0),
)  # fmt: skip
@example(own=(0.5, 0.8, 0.4), louder=(0.4, 0.8), peak=(0.2, 0.2), less=(0.2, -0.4), bend=0.2, at=(10, -4, 8), start=0)
def test_any_three_rising_curves_end_and_land(own, louder, peak, less, bend, at, start):
    """Cross effects as two stages have them; the peak comes out at the ceiling's number or over it."""
    def curves(*where: float) -> tuple[tuple[float, ...], ...]:
        drive, ceiling, trim = (value - goal for value, goal in zip(where, at, strict=True))
        bent = bend * math.log(math.cosh(drive))
        return ((own[0] * drive - own[0] * bent + louder[0] * ceiling + louder[1] * own[0] * trim,),
                (own[1] * ceiling + peak[0] * drive * 0.5 + peak[1] * trim * 0.5 - 0.05,),
                (own[2] * trim + less[0] * own[2] * drive + less[1] * own[2] * ceiling,))  # fmt: skip

    landed, joint = solved(three(ceiling=start, stages=(0, 1, 1)), curves)
    assert endings(landed) == MET
    assert len(joint.passes) <= 11


def test_what_is_out_of_reach_together_is_given_up_before_all_passes_are_made():
    """3 LU quieter at the same attenuation a clipper cannot: it and the trim go apart and come hardly nearer."""
    rng, given_up = np.random.default_rng(9), []
    for _ in range(30):
        case = any_dialled(rng, clips=True, off_db=(4, 3, 3))
        landed, joint = run(replace(case, goals=(case.goals[0] - 3, *case.goals[1:])), taught=False)
        if any(why.startswith("no closer after") for _, why in landed.endings):
            given_up.append(len(joint.passes))
            assert landed.chosen == min(joint.passes, key=lambda one: distance(joint, one))
    assert len(given_up) >= 5
    assert statistics.median(given_up) <= 12
    assert max(given_up) <= MOST_PASSES
