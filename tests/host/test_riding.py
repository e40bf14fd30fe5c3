"""Where ridden settings stand: on controls of known law."""

from __future__ import annotations

import numpy as np
import pytest
from fake_control import FakeControl, linear, listed

from sweeper.chain.model import Number, Travel
from sweeper.errors import SettingError
from sweeper.host.riding import RiddenControl, absolute_target, own_move, own_value, relative_target
from sweeper.host.setup import RideSetup

RATE_HZ = 1000


def ride(amount, relative=True, spans=((1.0, 2.0),), name="lift", ramp_s=0.0):
    return RideSetup(name, "Gain", "", amount, relative, spans, ramp_s)


def db(value):
    return Number(value, "dB", f"{value} dB")


def gain(at=0.5):
    return FakeControl("Gain", linear(-20, 20), "dB", at=at)


def test_a_relative_ride_goes_from_where_the_control_stands_and_comes_back():
    control = gain()
    one = RiddenControl(control, [ride(db(4))], RATE_HZ)
    one.ride(1000, 1256)
    assert control.raw() == pytest.approx(0.6)
    one.ride(2000, 2256)
    assert control.raw() == 0.5
    assert one.home() is False
    one.ride(1000, 1256)
    assert one.home() is True
    assert control.raw() == 0.5


def test_an_absolute_ride_goes_to_a_value_and_relative_ones_add_to_it():
    control = gain()
    rides = [ride(db(-10), relative=False), ride(Travel(0.1, "10 % travel"), spans=((1.5, 3.0),), name="more")]
    one = RiddenControl(control, rides, RATE_HZ)
    for first, raw in ((1000, 0.25), (1500, 0.35), (2500, 0.6), (3000, 0.5)):
        one.ride(first, first + 1)
        assert control.raw() == pytest.approx(raw)


def test_halfway_up_a_ramp_it_stands_halfway():
    control = gain()
    one = RiddenControl(control, [ride(db(8), ramp_s=0.2)], RATE_HZ)
    one.ride(800, 900)
    assert control.raw() == pytest.approx(0.6)


def test_a_control_that_ends_before_is_ridden_to_its_end_and_that_is_known():
    assert relative_target(gain(0.9), 0.9, db(12)) == (1.0, True)
    assert relative_target(gain(0.1), 0.1, db(-12)) == (0.0, True)
    assert relative_target(gain(0.9), 0.9, Travel(0.2, "20 % travel")) == (1.0, True)
    assert relative_target(gain(), 0.5, db(2)) == (pytest.approx(0.55), False)


def test_a_number_that_no_position_shows_is_the_nearest_and_not_the_end():
    ratio = FakeControl("Ratio", listed("1.5", "2", "4", "10"), "", at=1 / 3, steps=4)
    target, stopped = relative_target(ratio, 1 / 3, Number(1.8, "", "1.8"))
    assert (target, stopped) == (pytest.approx(2 / 3), False)
    assert relative_target(ratio, 0.0, Number(0.4, "", "0.4")) == (pytest.approx(1 / 3), False)
    assert relative_target(ratio, 2 / 3, Number(7, "", "7")) == (1.0, True)
    coarse = FakeControl("Level", linear(-20, 20, 0), "dB", at=0.5)
    assert relative_target(coarse, 0.5, db(1.4))[0] == pytest.approx(0.535, abs=0.02)


def test_a_goal_that_no_position_shows_is_the_nearest_and_one_beyond_is_refused():
    ratio = FakeControl("Ratio", listed("1.5", "2", "4", "10"), "", at=0.0, steps=4)
    assert absolute_target(ratio, Number(3.9, "", "3.9")) == pytest.approx(2 / 3)
    with pytest.raises(SettingError):
        absolute_target(ratio, Number(11, "", "11"))


def test_a_ride_of_blend_beyond_all_of_it_is_known_to_stop():
    more = RideSetup("more", "blend", "", Number(40, "%", "40 %"), True, ((1.0, 2.0),), 0.0)
    assert own_move(more, RATE_HZ, 0.9, False).stopped is True
    assert own_move(more, RATE_HZ, 0.5, False).stopped is False


@pytest.mark.parametrize(("base_db", "is_fader", "stopped"), [(50, False, False), (51, False, True), (11, True, True)])
def test_a_ride_of_a_trim_or_a_level_beyond_its_range_is_known_to_stop(base_db, is_fader, stopped):
    more = RideSetup("more", "output trim", "", db(10), True, ((1.0, 2.0),), 0.0)
    assert own_move(more, RATE_HZ, base_db, is_fader).stopped is stopped


def test_on_a_falling_control_more_is_more_of_what_it_shows():
    falling = FakeControl("Threshold", linear(0, -40), "dB", at=0.25)
    assert relative_target(falling, 0.25, db(-4)) == (pytest.approx(0.35), False)
    assert relative_target(falling, 0.25, db(20)) == (0.0, True)


def test_another_unit_is_refused():
    with pytest.raises(SettingError):
        relative_target(gain(), 0.5, Number(3, "ms", "3 ms"))


def test_from_a_control_that_shows_no_number_nothing_is_ridden():
    mix = FakeControl("Mix", lambda raw: "Off" if raw == 0 else f"{raw * 10:.2f}", "dB", at=0.0)
    with pytest.raises(SettingError):
        relative_target(mix, 0.0, db(2))


def test_a_stepped_control_is_ridden_in_its_steps():
    ratio = FakeControl("Ratio", listed("1", "2", "4", "8", "16"), "", at=0.25, steps=5)
    one = RiddenControl(ratio, [ride(Travel(0.6, "60 % travel"), ramp_s=0.5)], RATE_HZ)
    stood = set()
    for first in range(400, 1100, 10):
        one.ride(first, first + 10)
        stood.add(ratio.raw())
    assert stood == {0.25, 0.5, 0.75}


def test_own_settings_are_levels_and_shares():
    assert own_value("input trim", db(-3)) == -3
    assert own_value("blend", Number(70, "%", "70 %")) == pytest.approx(0.7)
    wrong = (("blend", db(3)), ("output trim", Number(5, "%", "5 %")), ("blend", Travel(0.5, "50 % travel")))
    for name, value in wrong:
        with pytest.raises(SettingError):
            own_value(name, value)


def test_the_base_is_where_it_stood_when_it_was_taken():
    control = gain(0.2)
    one = RiddenControl(control, [ride(db(4))], RATE_HZ)
    assert one.base == 0.2
    assert np.allclose(one.targets(), [0.3])
