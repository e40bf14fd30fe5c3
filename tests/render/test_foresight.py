"""Reaches that excerpts go before: few full renders, each of them verified, and what cannot be is told."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from sweeper.plan.reach import Direction, Ending
from sweeper.quantities import Measurements
from sweeper.render.job import GoalOrder, ReachOrder, Solved, Taught
from sweeper.render.solve import solve

Law = Callable[[dict[str, float]], dict[str, float]]


class Knob:
    """A setting in dB that stands in a dictionary."""

    unit, steps = "dB", ()

    def __init__(self, settings: dict[str, float], name: str, low: float, high: float) -> None:
        self.settings, self.name, self.low, self.high = settings, name, low, high

    def now(self) -> float:
        return self.settings[self.name]

    def turn(self, value: float) -> float:
        self.settings[self.name] = value
        return value


class Excerpts:
    """Foretells what a law says, and is off by as much as `off` says."""

    def __init__(self, settings: dict[str, float], law: Law, off: Law, most: int) -> None:
        self.settings, self.law, self.off, self.left, self.asked = settings, law, off, most, 0
        self.edition = 0
        self.places: list[dict[str, float]] = []

    def foretell(self) -> Measurements:
        assert self.left > 0, "asked more often than there was left"
        self.left -= 1
        self.asked += 1
        self.places.append(dict(self.settings))
        off = self.off(self.settings)
        return Measurements({key: value + off[key] for key, value in self.law(self.settings).items()})


def limiter(settings):
    """Drive gains less and less; the peak stands at the ceiling, and past it as it is driven."""
    lost = 3.0 * math.log1p(math.exp((settings["drive"] - 4) / 3.0)) - 3.0 * math.log1p(math.exp(-4 / 3.0))
    over = 0.3 + 0.05 * max(settings["drive"], 0)
    return {"loudness_lufs": -18 + settings["drive"] - 0.8 * lost + 0.4 * (settings["ceiling"] + 1),
            "true_peak_dbtp": min(settings["ceiling"] + over, settings["drive"])}  # fmt: skip


def falling(settings):
    """A limiter that comes out quieter again when it is driven beyond 8 dB: -13.2 LUFS at most."""
    drive = settings["drive"]
    return {"loudness_lufs": -18 + drive - max(drive, 0) ** 2 / 16 + 0.8, "true_peak_dbtp": settings["ceiling"]}


def still(settings):
    return {"loudness_lufs": -18.0, "true_peak_dbtp": settings["ceiling"]}


def nothing_off(settings):
    return {"loudness_lufs": 0.0, "true_peak_dbtp": 0.0}


def a_bit_off(settings):
    """As excerpts of real tracks are: more so the harder it is driven."""
    return {"loudness_lufs": -0.1 - 0.03 * settings["drive"], "true_peak_dbtp": -0.35 - 0.02 * settings["drive"]}


def ran(goal_lufs, law=limiter, off=nothing_off, peak=None, most=8, taught=None, new_each_render=False):
    settings = {"drive": 0.0, "ceiling": -1.0}
    orders = [ReachOrder(0, "drive", "", Direction.RAISE,
                         (GoalOrder("loudness_lufs", goal_lufs, 1, 0.1, False, "loudness"),), taught)]  # fmt: skip
    knobs = [Knob(settings, "drive", -10.0, 30.0)]
    if peak is not None:
        orders.append(ReachOrder(0, "ceiling", "", Direction.UNKNOWN,
                                 (GoalOrder("true_peak_dbtp", peak, 1, 0.1, True, "true peak"),)))  # fmt: skip
        knobs.append(Knob(settings, "ceiling", -20.0, 0.0))
    renders = []

    def render():
        renders.append(dict(settings))
        excerpts.edition += new_each_render
        return Measurements(law(settings))

    excerpts = Excerpts(settings, law, off, most)
    solved = solve(orders, knobs, render, excerpts)  # type: ignore[arg-type]
    assert settings == renders[-1], "what is kept is what was rendered last"
    for one in solved:
        assert one.value == law(settings)[one.key], "it is measured, not foretold"
        assert one.passes == len(renders)
    return solved, renders, excerpts


@pytest.mark.parametrize("goal_lufs", [-17.0, -16.0, -14.5, -13.5])
def test_excerpts_that_foretell_right_leave_one_render(goal_lufs):
    (solved,), renders, excerpts = ran(goal_lufs)
    assert solved.ending is Ending.ON_TARGET
    assert abs(solved.value - goal_lufs) <= 0.1
    assert len(renders) == 1
    assert solved.beyond == pytest.approx(0.0, abs=0.05)
    assert excerpts.asked <= 5


@pytest.mark.parametrize("goal_lufs", [-17.0, -16.0, -14.5, -13.5])
def test_excerpts_that_are_off_leave_two(goal_lufs):
    (solved,), renders, _ = ran(goal_lufs, off=a_bit_off)
    assert solved.ending is Ending.ON_TARGET
    assert len(renders) == 2
    assert solved.beyond == pytest.approx(0.1 + 0.03 * renders[0]["drive"], abs=0.02)


@pytest.mark.parametrize("goal_lufs", [-16.5, -15.0, -14.0])
def test_loudness_and_peak_together_take_at_most_three(goal_lufs):
    solved, renders, _ = ran(goal_lufs, off=a_bit_off, peak=-1.0)
    assert [one.ending for one in solved] == [Ending.ON_TARGET] * 2
    assert -1.1 <= solved[1].value <= -1.0
    assert len(renders) <= 3


@pytest.mark.parametrize(("most", "passes"), [(3, 2), (4, 4), (8, 2)])
def test_a_ceiling_that_nothing_arrives_at_keeps_no_loudness_from_landing(most, passes):
    """Excerpts are off, so that the first render misses; that the peak lies far under its goal is no reason to stay.

    Where excerpts are used up before they show that the ceiling does nothing, full renders do.
    """

    def no_peaks(settings):
        return {"loudness_lufs": -18 + settings["drive"], "true_peak_dbtp": settings["drive"] - 12}

    def off(settings):
        return {"loudness_lufs": -0.3, "true_peak_dbtp": 0.4}

    (loud, peak), renders, _ = ran(-14.0, no_peaks, off, peak=-1.0, most=most)
    assert (loud.ending, peak.ending) == (Ending.ON_TARGET, Ending.NOT_ENGAGED)
    assert len(renders) == passes


def test_what_a_teacher_found_off_is_made_up_for():
    (first,), _, _ = ran(-14.5, off=a_bit_off)
    (solved,), renders, excerpts = ran(-14.4, off=a_bit_off, taught=Taught(first.at, first.slope, first.beyond))
    assert solved.ending is Ending.ON_TARGET
    assert len(renders) == 1
    assert excerpts.asked <= 2


def test_a_top_below_the_goal_is_told_after_renders_on_both_sides_of_it():
    (solved,), renders, _ = ran(-11.0, law=falling, off=a_bit_off)
    assert solved.ending is Ending.OUT_OF_REACH
    assert solved.why == "driven harder it comes out lower again"
    assert solved.value == pytest.approx(-13.2, abs=0.1)
    assert len(renders) <= 4
    drives = [one["drive"] for one in renders]
    assert min(drives) < solved.at < max(drives)


def test_peaks_that_are_foretold_badly_do_not_keep_loudness_from_being_out_of_reach():
    def off(settings):
        return {"loudness_lufs": -0.1, "true_peak_dbtp": -1.2}

    solved, renders, _ = ran(-11.0, law=falling, off=off, peak=-1.0)
    assert [one.ending for one in solved] == [Ending.OUT_OF_REACH, Ending.ON_TARGET]
    assert solved[0].value == pytest.approx(-13.2, abs=0.1)
    assert len(renders) <= 5


def test_the_settings_stand_where_it_was_rendered_though_excerpts_were_played_elsewhere_since():
    def off(settings):
        return {"loudness_lufs": -0.1 + 0.1 * settings["drive"], "true_peak_dbtp": 0.0}

    (solved,), renders, excerpts = ran(-12.5, law=falling, off=off)
    assert solved.ending is Ending.OUT_OF_REACH
    assert solved.at == renders[-1]["drive"]
    assert excerpts.asked > len(renders)


def test_a_teacher_beyond_the_top_does_not_keep_it_there():
    (solved,), renders, _ = ran(-14.0, law=falling, taught=Taught(25.0, -1.0, 0.0))
    assert solved.ending is Ending.ON_TARGET
    assert renders[-1]["drive"] < 8
    assert len(renders) <= 2


def test_a_setting_that_does_nothing_is_told():
    (solved,), renders, _ = ran(-14.0, law=still)
    assert solved.ending is Ending.OUT_OF_REACH
    assert solved.why == "the end of its way, 30"
    assert {one["drive"] for one in renders} == {0.0, 30.0}
    assert len(renders) <= 3


def test_excerpts_that_foretell_nonsense_cost_renders_and_nothing_else():
    def nonsense(settings):
        return {"loudness_lufs": 3 * math.sin(5 * settings["drive"]), "true_peak_dbtp": 0.0}

    (solved,), renders, _ = ran(-14.5, off=nonsense)
    assert solved.ending is Ending.ON_TARGET
    assert abs(solved.value + 14.5) <= 0.1
    assert len(renders) <= 8


def test_no_tries_left_is_as_without_excerpts():
    one, other = ran(-14.5, most=0), ran(-14.5, most=0, off=a_bit_off)
    assert one[1] == other[1]
    assert one[0][0].beyond is None


def test_what_is_off_goes_on_a_sheet_and_back():
    (solved,), _, _ = ran(-14.5, off=a_bit_off)
    assert Solved.from_data(solved.as_data()) == solved
    old = {key: value for key, value in solved.as_data().items() if key != "beyond"}
    assert Solved.from_data(old).beyond is None


def test_what_a_first_render_that_nothing_was_foretold_for_measured_beyond_is_taught_too():
    def peaks_missed(settings):
        return {"loudness_lufs": -0.1, "true_peak_dbtp": -1.2}

    (_, peak), renders, _ = ran(-12.0, off=peaks_missed, peak=-1.0, most=4)
    assert len(renders) > 1, "the first render has to miss for anything to be off"
    assert peak.beyond == pytest.approx(1.2, abs=0.01)


def toppling(settings):
    """Half a decibel a decibel up to 12 dB of drive, and quieter again beyond: -12 LUFS at most."""
    drive = settings["drive"]
    return {"loudness_lufs": -18 + 0.5 * drive - max(0.0, drive - 12), "true_peak_dbtp": settings["ceiling"] + 0.2}


@pytest.mark.parametrize("goal_lufs", [-11.0, -10.0, -9.0])
@pytest.mark.parametrize("off", [nothing_off, a_bit_off])
def test_what_is_called_closest_is_as_near_as_excerpts_had_foretold_though_others_are_played_since(goal_lufs, off):
    (solved, peak), renders, _ = ran(goal_lufs, law=toppling, off=off, peak=-1.0, most=9, new_each_render=True)
    assert (solved.ending, solved.why) == (Ending.OUT_OF_REACH, "driven harder it comes out lower again")
    assert solved.value == pytest.approx(-12.0, abs=0.3)
    assert peak.ending is Ending.ON_TARGET
    assert len(renders) <= 6
    assert len({tuple(one.values()) for one in renders}) >= len(renders) - 1, "only what is kept is rendered twice"


@pytest.mark.parametrize("most", [3, 4])
def test_a_first_render_is_not_made_beyond_what_was_played_where_that_was_nearer(most):
    _, renders, excerpts = ran(-9.0, law=falling, peak=-1.0, most=most)
    assert renders[0] in excerpts.places
    assert falling(renders[0])["loudness_lufs"] == pytest.approx(-13.2, abs=0.05)


@pytest.mark.parametrize("goal_lufs", [-14.5, -13.0, -12.0])
def test_of_several_settings_the_later_full_renders_stand_where_full_renders_say(goal_lufs):
    """Else excerpts that foretell nonsense led both back to where nothing is in reach."""
    def nonsense(settings):
        return {"loudness_lufs": 3 * math.sin(5 * settings["drive"]),
                "true_peak_dbtp": math.sin(9 * settings["ceiling"])}  # fmt: skip

    solved, renders, _ = ran(goal_lufs, off=nonsense, peak=-2.0, most=60)
    assert [one.ending for one in solved] == [Ending.ON_TARGET] * 2
    assert len(renders) <= 8
