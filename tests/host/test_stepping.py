"""From a step away from where a control is dialled to its position, on controls of known law."""

from __future__ import annotations

import pytest
from fake_control import FakeControl, linear, listed

from sweeper.chain.from_dialled import in_words
from sweeper.chain.model import Choice, FromDialled, Number, SettingValue, Travel
from sweeper.errors import SettingError
from sweeper.host.stepping import stepped
from sweeper.units import parse_amount


def control(at: float = 0.5, low: float = -30.0, high: float = 0.0, unit: str = "dB", decimals: int = 6) -> FakeControl:
    return FakeControl("Threshold", linear(low, high, decimals), unit, at=at)


def step(text: str) -> FromDialled:
    amount = parse_amount(text)
    assert amount is not None
    offset: Number | Travel = Number(amount.value, amount.unit, text)
    if amount.unit == "% travel":
        offset = Travel(amount.value / 100, text)
    return FromDialled(offset, in_words(amount.value, amount.unit))


def number(value: float, unit: str = "") -> Number:
    return Number(value, unit, f"{value:g} {unit}".strip())


FREQUENCY = FakeControl("Frequency", lambda raw: f"{20 * 1000**raw:.1f} Hz", at=0.5)
MODE = FakeControl("Mode", listed("Clean", "Warm", "Hot"), steps=3, at=0.5)
FIVE = FakeControl("Stages", listed("1", "2", "3", "4", "5"), steps=5, at=0.5)
WITH_INFINITY = FakeControl("Level", lambda raw: "-inf dB" if raw == 0 else f"{-60 + 60 * raw:.2f} dB", at=0.0)


@pytest.mark.parametrize(
    ("turned", "text", "raw"),
    [
        (control(), "10 % travel", 0.6),
        (control(), "-50 % travel", 0.0),
        (control(0.95), "5 % travel", 1.0),
        (control(0.123), "0 % travel", 0.123),
        (control(0.123), "0 dB", 0.123),
        (control(), "3 dB", 0.6),
        (control(), "-3", 0.4),
        (FREQUENCY, "0 kHz", 0.5),
        (FIVE, "10 % travel", 0.5),
        (FIVE, "25 % travel", 0.75),
        (FIVE, "1", 0.75),
        (MODE, "50 % travel", 1.0),
    ],
)
def test_a_step_from_where_the_state_has_it(turned, text, raw):
    assert stepped(turned, step(text), None) == pytest.approx(raw, abs=1e-6)


def test_a_step_of_a_frequency_in_another_multiple():
    """632.5 Hz and 0.3676 kHz more are 1000 Hz: 20 x 1000 ** 0.56632 by hand."""
    assert stepped(FREQUENCY, step("0.3675 kHz"), None) == pytest.approx(0.56632, abs=1e-4)


def test_a_step_without_a_unit_is_in_that_of_the_chain_file():
    """1 kHz and 0.5 more are 1500 Hz: 20 x 1000 ** 0.62501 by hand."""
    assert stepped(FREQUENCY, step("0.5"), number(1, "kHz")) == pytest.approx(0.62501, abs=1e-4)


@pytest.mark.parametrize(
    ("dialled", "text", "raw"),
    [
        (number(-24, "dB"), "3 dB", 0.3),
        (number(-24), "3 dB", 0.3),
        (number(-24, "dB"), "3", 0.3),
        (Travel(0.25, "25 % travel"), "10 % travel", 0.35),
        (Travel(0.2, "20 % travel"), "3 dB", 0.3),
        (number(-24, "dB"), "0 dB", 0.2),
    ],
)
def test_a_step_from_what_the_chain_file_sets(dialled, text, raw):
    assert stepped(control(at=0.9), step(text), dialled) == pytest.approx(raw, abs=1e-6)


def test_no_step_is_where_it_stands_to_the_bit_though_the_plugin_shows_whole_numbers():
    assert stepped(control(0.4567891, decimals=0), step("0 dB"), None) == 0.4567891


def test_the_noise_of_32_bit_positions_does_not_add_up():
    """-20 dB stored as a 32-bit position reads -19.999998: one more is -19, not -18.999998."""
    at = 0.6666666865348816
    noisy = FakeControl("Threshold", lambda raw: f"{-60 + 60 * raw + (1.2e-6 if raw == at else 0):.6f}", "dB", at=at)
    assert stepped(noisy, step("1 dB"), None) == stepped(noisy, step("1 dB"), number(-20, "dB"))


@pytest.mark.parametrize(
    ("turned", "text", "dialled", "what", "remedy"),
    [
        (control(0.95, -20, 20), "10 % travel", None,
         "'Threshold' is dialled at 18 dB, 95 % of its way; 10 % more is beyond",
         "it can go 95 % down and 5 % up from there"),
        (control(0.95, -20, 20), "-96 % travel", None,
         "'Threshold' is dialled at 18 dB, 95 % of its way; 96 % less is beyond",
         "it can go 95 % down and 5 % up from there"),
        (control(0.5, -20, 20), "5 dB", number(18, "dB"), "'Threshold' is dialled at 18 dB; 5 dB more cannot be",
         "it goes from -20 to 20 dB"),
        (control(0.5, -20, 20), "-21 dB", None, "'Threshold' is dialled at 0 dB; 21 dB less cannot be",
         "it goes from -20 to 20 dB"),
        (control(0.5, -20, 20), "5 ms", None, "'Threshold' is in dB, not in ms: '5 ms'", "it goes from -20 to 20 dB"),
        (MODE, "1", None, "'Mode' is dialled at Warm, which is no number to step from",
         "write the step as a share of its way, e.g. 5 % travel"),
        (WITH_INFINITY, "1 dB", None, "'Level' is dialled at -inf dB, which is no number to step from",
         "write the step as a share of its way, e.g. 5 % travel"),
        (FIVE, "0.5", None, "'Stages' is dialled at 3; 0.5 more cannot be", "it can be 1, 2, 3, 4, 5"),
        (MODE, "5 % travel", Choice("Wrm"), "'Mode' cannot be 'Wrm'", "it can be Clean, Warm, Hot"),
    ],
)  # fmt: skip
def test_a_step_that_cannot_be_is_refused_with_where_it_stands(
    turned: FakeControl, text: str, dialled: SettingValue | None, what: str, remedy: str
):
    with pytest.raises(SettingError) as refused:
        stepped(turned, step(text), dialled)
    assert (refused.value.what, refused.value.remedy) == (what, remedy)
