"""Reaches inside a worker: the last render made is the one that is kept."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from sweeper.errors import MainMixFailed, PluginError
from sweeper.plan.conceded import NOT_TOGETHER
from sweeper.plan.reach import Direction, Ending
from sweeper.quantities import Measurements
from sweeper.render.job import GoalOrder, ReachOrder, Solved, Taught
from sweeper.render.solve import solve


class Knob:
    """A threshold in steps; loudness falls with it, and stays where it is below -20."""

    unit, steps = "dB", ()

    def __init__(self, step: float, at: float = 0.0, low: float = -30.0, high: float = 0.0) -> None:
        self.step, self.at, self.low, self.high = step, at, low, high

    def now(self) -> float:
        return self.at

    def turn(self, value: float) -> float:
        self.at = round(value / self.step) * self.step
        return self.at


def limiting(threshold_db: float) -> float:
    return -20 - max(threshold_db, -20.0)


def ran(goal: float, step: float = 0.03, loudness: Callable[[float], float] = limiting):
    knob = Knob(step)
    rendered: list[float] = []

    def render() -> Measurements:
        rendered.append(knob.at)
        return Measurements({"loudness_lufs": loudness(knob.at)})

    order = ReachOrder(0, "Threshold", "", Direction.LOWER, (GoalOrder("loudness_lufs", goal, 1, 0.1, False, "l"),))
    (one,) = solve([order], [knob], render)  # type: ignore[list-item]
    return one, rendered


def test_it_lands_and_says_where():
    solved, rendered = ran(-12.0)
    assert solved.ending is Ending.ON_TARGET
    assert abs(solved.value + 12) <= 0.1
    assert solved.at == rendered[-1]
    assert solved.passes == len(rendered) == 2


@pytest.mark.parametrize("goal", [-18.5, -17.0, -15.5, -14.0, -12.5])
def test_a_curve_is_solved_as_near_as_the_order_says(goal):
    solved, _ = ran(goal, loudness=lambda at_db: -20 + 10 * (1 - math.exp(at_db / 10)))
    assert solved.ending is Ending.ON_TARGET
    assert abs(solved.value - goal) <= 0.1


def test_what_is_told_is_the_last_render_made_and_the_closest_is_made_again_where_it_was_not_the_last():
    again = 0
    for top_db in range(-25, -5):
        solved, rendered = ran(0.5, loudness=lambda at_db, top_db=top_db: -abs(at_db - top_db))
        assert solved.ending is Ending.OUT_OF_REACH
        assert solved.at == rendered[-1]
        assert solved.value == -abs(rendered[-1] - top_db) == max(-abs(at_db - top_db) for at_db in rendered)
        assert solved.passes == len(rendered)
        again += rendered[-1] in rendered[:-1]
    assert again, "at some of the tops the last proposal is not the closest"


def test_out_of_reach_keeps_the_closest_and_says_which_end_stopped_it():
    solved, _ = ran(5.0)
    assert solved.ending is Ending.OUT_OF_REACH
    assert solved.value == 0.0
    assert "-30" in solved.why or "lower again" in solved.why or "finer" in solved.why


CREST = GoalOrder("crest_db", 8.0, -1, 0.1, True, "crest >= 8 dB")


@pytest.mark.parametrize(
    ("crest_db", "ending"),
    [(9.0, Ending.FARTHEST), (8.5, Ending.FARTHEST), (7.0, Ending.OUT_OF_REACH)],
)  # fmt: skip
def test_with_a_floor_that_holds_the_end_of_the_way_is_as_far_as_was_asked(crest_db, ending):
    knob = Knob(0.03)
    goal = GoalOrder("loudness_lufs", 5.0, 1, 0.1, False, "l")
    order = ReachOrder(0, "Threshold", "", Direction.LOWER, (goal, CREST))
    (solved,) = solve([order], [knob], lambda: Measurements({"loudness_lufs": limiting(knob.at), "crest_db": crest_db}))
    assert (solved.ending, solved.ending.teaches) == (ending, False)


LOUDNESS = GoalOrder("loudness_lufs", -12.0, 1, 0.1, False, "loudness -12")
PEAK = GoalOrder("true_peak_dbtp", -1.0, 1, 0.1, True, "true peak -1")


def both(ceiling_at: float, *bounds: GoalOrder, goal: GoalOrder = LOUDNESS, way: Direction = Direction.RAISE,
         taught: tuple[Taught | None, ...] = (None, None),
         loudest: float = 0.0) -> tuple[tuple[Solved, ...], list[tuple[float, float]]]:  # fmt: skip
    """A drive and a ceiling on music of -20 LUFS, peaks 12 dB higher, that loses a fifth of what the ceiling holds."""
    drive, ceiling = Knob(0.01, 0.0, -40.0, 40.0), Knob(0.01, ceiling_at, -24.0)
    rendered: list[tuple[float, float]] = []

    def render() -> Measurements:
        rendered.append((drive.at, ceiling.at))
        peak = drive.at - 8 + loudest
        held = max(0.0, peak - ceiling.at - 0.4)
        loud, peak = drive.at - 20 - 0.2 * held, peak - held
        return Measurements({"loudness_lufs": loud, "true_peak_dbtp": peak, "plr_db": peak - loud})

    orders = [ReachOrder(0, "Drive", "", way, (goal, *bounds), taught[0]),
              ReachOrder(0, "Ceiling", "", Direction.UNKNOWN, (PEAK,), taught[1])]  # fmt: skip
    return solve(orders, [drive, ceiling], render), rendered  # type: ignore[arg-type]


@pytest.mark.parametrize("ceiling_at", [0.0, -1.0, -4.0])
def test_loudness_and_true_peak_are_met_by_the_last_render(ceiling_at):
    solved, rendered = both(ceiling_at)
    assert [s.ending for s in solved] == [Ending.ON_TARGET, Ending.ON_TARGET]
    assert abs(solved[0].value + 12) <= 0.1
    assert -1.1 <= solved[1].value <= -1.0
    assert (solved[0].at, solved[1].at) == rendered[-1]
    assert solved[0].passes == solved[1].passes == len(rendered) <= 5
    assert [s.setting for s in solved] == ["Drive", "Ceiling"]


def test_what_was_learnt_lets_the_next_one_begin_near_the_end():
    first, _ = both(0.0)
    assert first[0].slope == pytest.approx(0.8, abs=0.1)
    assert first[1].slope == pytest.approx(1.0, abs=0.1)
    taught = tuple(Taught(s.at, s.slope) for s in first)
    again, rendered = both(0.0, taught=taught)
    assert len(rendered) == 1
    assert [s.slope for s in again] == [s.slope for s in first], "one pass shows none; what was taught goes on"
    near, rendered = both(0.0, taught=taught, loudest=1.5)
    assert [s.ending for s in near] == [Ending.ON_TARGET, Ending.ON_TARGET]
    assert len(rendered) <= 2


def test_a_ceiling_that_is_never_reached_is_rendered_where_the_chain_file_has_it():
    quiet = GoalOrder("loudness_lufs", -19.0, 1, 0.1, False, "loudness -19")
    solved, rendered = both(-2.0, goal=quiet)
    assert [s.ending for s in solved] == [Ending.ON_TARGET, Ending.NOT_ENGAGED]
    assert rendered[-1][1] == solved[1].at == -2.0
    taught, rendered = both(-2.0, goal=quiet, taught=(None, Taught(-3.0, 1.0)))
    assert taught[1].ending is Ending.NOT_ENGAGED
    assert rendered[-1][1] == -2.0


def test_what_cannot_be_met_with_the_others_is_given_up_and_the_others_are_met():
    """A compressor in a stage at which hardly anything arrives attenuates nothing, and two gains cancel each other."""
    drive, ceiling, trim = knobs = Knob(0.01, 0.0, -60, 60), Knob(0.01, 0.0, -24), Knob(0.01, 0.0, -60, 60)
    rendered: list[tuple[float, ...]] = []

    def render() -> Measurements:
        rendered.append(tuple(knob.at for knob in knobs))
        gain_db = drive.at + trim.at
        held_db = max(0.0, gain_db - 7 - ceiling.at)
        return Measurements({"loudness_lufs": -24 + gain_db - 0.4 * held_db, "limiter.attenuation_db": 0.0,
                             "true_peak_dbtp": gain_db - 7 - held_db + 0.3})  # fmt: skip

    inside = GoalOrder("limiter.attenuation_db", 3.0, 1, 0.1, False, "attenuation 3 dB")
    loud_enough = GoalOrder("loudness_lufs", -20.0, 1, 0.1, False, "loudness -20")
    orders = [ReachOrder(0, "input trim", "", Direction.RAISE, (loud_enough,)),
              ReachOrder(1, "Ceiling", "", Direction.UNKNOWN, (PEAK,)),
              ReachOrder(1, "input trim", "", Direction.RAISE, (inside,), measured=1)]  # fmt: skip
    loud, peak, attenuation = solve(orders, knobs, render)  # type: ignore[arg-type]
    assert loud.ending is Ending.ON_TARGET
    assert abs(loud.value + 20) <= 0.1
    assert peak.ending in (Ending.ON_TARGET, Ending.NOT_ENGAGED)
    assert peak.value <= -1.0
    assert (attenuation.ending, attenuation.why) == (Ending.OUT_OF_REACH, NOT_TOGETHER)
    assert rendered[-1] == (loud.at, peak.at, attenuation.at)
    assert loud.passes == len(rendered) <= 17


@pytest.mark.parametrize("way", [Direction.LOWER, Direction.UNKNOWN])
def test_plr_is_brought_down_by_more_drive(way):
    """As orders have it: the direction is the one in which the target itself rises."""
    plr = GoalOrder("plr_db", 10.0, 1, 0.1, False, "plr 10")
    solved, _ = both(0.0, goal=plr, way=way)
    assert [s.ending for s in solved] == [Ending.ON_TARGET, Ending.ON_TARGET]
    assert abs(solved[0].value - 10) <= 0.1
    assert solved[0].slope < 0


def test_a_bound_that_grows_with_the_drive_stops_a_target_that_falls_with_it():
    plr = GoalOrder("plr_db", 6.0, 1, 0.1, False, "plr 6")
    loud = GoalOrder("loudness_lufs", -9.0, 1, 0.1, True, "loudness <= -9 LUFS")
    solved, _ = both(0.0, loud, goal=plr, way=Direction.LOWER)
    assert [s.ending for s in solved] == [Ending.STOPPED, Ending.ON_TARGET]
    assert solved[0].why == "loudness <= -9 LUFS"


def test_a_peak_is_met_alone_from_below():
    ceiling = Knob(0.01, -0.2, -24.0)
    order = ReachOrder(0, "Ceiling", "", Direction.UNKNOWN, (PEAK,))
    (solved,) = solve([order], [ceiling], lambda: Measurements({"true_peak_dbtp": ceiling.at + 0.6}))  # type: ignore[list-item]
    assert solved.ending is Ending.ON_TARGET
    assert -1.1 <= solved.value <= -1.0
    assert solved.passes == 2
    assert solved.slope == pytest.approx(1.0)


def falling_when_overdriven(drive_db: float) -> float:
    """A limiter that comes out quieter again past 12 dB of drive."""
    return -20 + min(drive_db, 12.0) - 0.3 * max(0.0, drive_db - 12.0)


@pytest.mark.parametrize("taught_db", [24.0, 38.0])
def test_a_teacher_from_beyond_the_top_of_a_hump_does_no_harm(taught_db):
    """What can be reached from where the chain file has it is reached, whoever taught."""
    knob = Knob(0.01, at=0.0, low=-40.0, high=40.0)
    rendered: list[float] = []

    def render() -> Measurements:
        rendered.append(knob.at)
        return Measurements({"loudness_lufs": falling_when_overdriven(knob.at)})

    goal = GoalOrder("loudness_lufs", -12.5, 1, 0.1, False, "l")
    order = ReachOrder(0, "input trim", "", Direction.RAISE, (goal,), Taught(taught_db, -0.3))
    (one,) = solve([order], [knob], render)  # type: ignore[list-item]
    assert one.ending is Ending.ON_TARGET
    assert abs(falling_when_overdriven(rendered[-1]) + 12.5) <= 0.1
    assert one.passes == len(rendered)


def test_an_alternate_is_rendered_once_where_its_main_mix_was_solved_to():
    knob, rendered = Knob(0.01), []

    def render() -> Measurements:
        rendered.append(knob.at)
        return Measurements({"loudness_lufs": limiting(knob.at) - 3.0})

    goal = GoalOrder("loudness_lufs", -12.0, 1, 0.1, False, "l")
    order = ReachOrder(0, "Threshold", "", Direction.LOWER, (goal,), Taught(-8.0, -1.0), as_taught=True)
    (solved,) = solve([order], [knob], render)  # type: ignore[list-item]
    assert (rendered, solved.ending, solved.at, solved.value, solved.passes) == ([-8.0], Ending.AS_MAIN, -8.0, -15.0, 1)


def test_an_alternate_whose_main_failed_fails_with_that_word():
    order = ReachOrder(0, "Threshold", "", Direction.LOWER, (GoalOrder("loudness_lufs", -12.0, 1, 0.1, False, "l"),),
                       as_taught=True)  # fmt: skip
    with pytest.raises(MainMixFailed, match="its main mix's variant failed") as caught:
        solve([order], [Knob(0.01)], lambda: Measurements({}))  # type: ignore[list-item]
    assert not isinstance(caught.value, PluginError), "or the stage would be blamed, and not be tried again"
