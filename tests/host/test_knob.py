"""A setting as a number that a solver turns: on controls of known law, and on a real plugin (Debian's zam-plugins)."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from fake_control import FakeControl, linear, listed
from plugin_fixtures import done, packaged, stage

from sweeper.errors import SettingError
from sweeper.host.control import Control
from sweeper.host.knob import Knob
from sweeper.host.riding import own_value
from sweeper.host.scale import is_number, scale, solvable
from sweeper.host.setup import Dialled


class PlayedStage:
    """A stage with one control, or bypassed."""

    def __init__(self, *controls: FakeControl) -> None:
        self.setup = SimpleNamespace(name="glue", is_fader=False, path="builtin:Gain")
        self.own = {"input trim": -2.0, "output trim": 0.0, "blend": 0.7}
        self._controls = controls
        self.made: list[Dialled] = []

    def controls(self, name: str, side: str) -> tuple[Control, ...]:
        return self._controls

    def adjust(self, setting: Dialled) -> None:
        self.made.append(setting)
        if setting.name in self.own:
            self.own[setting.name] = own_value(setting.name, setting.value)
        else:
            self._controls[0].put(setting.value.fraction)


def threshold(**how) -> FakeControl:
    return FakeControl("Threshold", linear(-30, 0), "dB", **how)


def turned(control: FakeControl) -> tuple[Knob, PlayedStage]:
    played = PlayedStage(control)
    return Knob(played, control.name.lower(), ""), played


def test_it_is_turned_in_the_unit_that_the_plugin_shows():
    knob, played = turned(threshold(at=0.5))
    assert (knob.name, knob.unit, knob.low, knob.high, knob.steps) == ("Threshold", "dB", -30, 0, ())
    assert knob.now() == pytest.approx(-15)
    assert knob.turn(-7.5) == pytest.approx(-7.5)
    assert played.made[0].value.fraction == pytest.approx(0.75)
    assert played.made[0].value.text == "-7.5 dB"


def test_what_it_says_is_where_the_plugin_put_it():
    knob, _ = turned(threshold(sticks=lambda raw: round(raw * 30) / 30))
    assert knob.turn(-7.4) == pytest.approx(-7)


def test_a_control_that_shows_whole_numbers_is_turned_finely_all_the_same():
    knob, played = turned(FakeControl("Threshold", linear(-64, 0, 0), "dB"))
    assert knob.turn(-10.25) == pytest.approx(-10.25, abs=0.02)
    assert played.made[0].value.fraction == pytest.approx(1 - 10.25 / 64, abs=1e-3)


def test_a_control_that_runs_down_is_turned_by_its_number():
    knob, played = turned(FakeControl("Reduction", linear(24, 0), "dB", at=0.25))
    assert (knob.low, knob.high) == (0, 24)
    assert knob.now() == pytest.approx(18)
    assert knob.turn(6) == pytest.approx(6)
    assert played.made[0].value.fraction == pytest.approx(0.75)


def test_a_curve_is_followed_between_the_places_that_were_looked_at():
    """20 Hz to 20 kHz, evenly by octaves: 1 kHz lies at log(50) / log(1000) = 0.5663 of the way, by hand."""
    knob, played = turned(FakeControl("Frequency", lambda raw: f"{20 * 1000**raw / 1000:.6f} kHz"))
    assert (knob.unit, knob.low, knob.high) == ("Hz", 20, 20000)
    assert knob.turn(1000) == pytest.approx(1000)
    assert played.made[0].value.fraction == pytest.approx(0.5663, abs=2e-3)


def test_a_stepped_control_has_its_numbers_and_stands_on_one_of_them():
    def on_a_step(raw: float) -> float:
        return round(raw * 3) / 3

    knob, _ = turned(FakeControl("Ratio", listed("1.5", "2", "4", "10"), steps=4, at=1 / 3, sticks=on_a_step))
    assert knob.steps == (1.5, 2, 4, 10)
    assert knob.now() == 2
    assert knob.turn(4) == 4
    between, _ = turned(FakeControl("Ratio", listed("1.5", "2", "4", "10"), steps=4, at=0.36))
    assert between.now() == 2, "a position that is not quite on a step"


@pytest.mark.parametrize(
    "show", [lambda raw: "on" if raw > 0.5 else "off", lambda raw: f"{(raw - 0.4) ** 2:.4f}", lambda raw: "5 dB"],
    ids=["words", "back and forth", "always the same"],
)  # fmt: skip
def test_what_shows_no_numbers_that_run_one_way_is_turned_by_its_travel(show):
    knob, played = turned(FakeControl("Amount", show, at=0.25))
    assert (knob.unit, knob.low, knob.high) == ("% travel", 0, 100)
    assert knob.now() == pytest.approx(25)
    assert knob.turn(37.5) == pytest.approx(37.5)
    assert (played.made[0].value.fraction, played.made[0].value.text) == (pytest.approx(0.375), "37.5 % travel")


def test_infinity_at_one_end_is_left_out():
    unit, raws, numbers = scale(FakeControl("Level", lambda raw: "-inf dB" if raw == 0 else f"{60 * raw - 60:.3f} dB"))
    assert unit == "dB"
    assert raws[0] > 0
    assert np.isfinite(numbers).all()
    assert numbers[-1] == 0


def test_a_stretch_that_shows_the_same_counts_once():
    _, raws, numbers = scale(FakeControl("Level", lambda raw: f"{max(0.0, raw - 0.5) * 10:.3f}"))
    assert (np.diff(numbers) > 0).all()
    assert len(raws) == len(numbers) == 33


def test_a_trim_is_turned_in_decibels_without_a_plugin():
    played = PlayedStage()
    knob = Knob(played, "input trim", "")
    assert (knob.unit, knob.low, knob.high, knob.steps, knob.now()) == ("dB", -60.0, 60.0, (), -2.0)
    assert knob.turn(3.25) == 3.25
    assert (played.made[0].value.value, played.made[0].value.unit) == (3.25, "dB")


def test_a_bypassed_stage_has_nothing_to_turn():
    with pytest.raises(SettingError, match="'glue' is bypassed"):
        Knob(PlayedStage(), "Threshold", "")


@pytest.mark.parametrize(
    ("show", "steps", "number"),
    [(linear(0, 1), 0, True), (listed("off", "on"), 2, False), (listed("0", "1"), 2, False),
     (listed("Clean", "Warm", "Hot"), 3, False), (listed("1", "2", "4"), 3, True), (listed("1", "2", "max"), 3, False)],
)  # fmt: skip
def test_switches_and_lists_of_words_cannot_be_solved(show, steps, number):
    control = FakeControl("Mode", show, steps=steps)
    assert is_number(control) is number
    if number:
        solvable([control], "mode")
    else:
        with pytest.raises(SettingError, match="'Mode' cannot be solved"):
            solvable([control], "mode")


def test_what_is_not_there_cannot_be_solved_either():
    with pytest.raises(SettingError, match="no setting is called 'Drive'"):
        solvable([threshold()], "Drive")


def test_a_real_limiters_threshold_stands_where_it_was_turned(pool):
    """-30 to 0 dB, as the plugin's own window has it."""
    setup = stage(packaged("ZaMaximX2"))
    unit, low, high, at = done(pool, "hosting_tasks:turned", (setup, "threshold", -12.345))
    assert (unit, low, high) == ("dB", pytest.approx(-30), pytest.approx(0))
    assert at == pytest.approx(-12.345, abs=1e-4)
