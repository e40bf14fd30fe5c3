"""What is written leads back to where the control stood, to the bit where its text does not."""

from __future__ import annotations

import numpy as np
import pytest
from fake_control import FakeControl, linear, listed

from sweeper.chain.values import setting_value
from sweeper.dial.words import shown, written
from sweeper.host.resolve import resolve


@pytest.mark.parametrize(
    ("control", "raw", "text"),
    [(FakeControl("Gain", linear(-20, 20), "dB"), 0.75, "10 dB"),
     (FakeControl("Gain", linear(-20, 20), ""), 0.5, "0"),
     (FakeControl("Mode", listed("Soft", "Hard", "Off"), steps=3), 0.5, "Hard"),
     (FakeControl("Mode", listed("off", "on"), steps=2), 1.0, "on"),
     (FakeControl("Time", lambda raw: f"{raw * 100:.4f} ms"), 0.25, "25.0000 ms")],
)  # fmt: skip
def test_the_plugins_own_text_where_it_leads_back(control, raw, text):
    assert written(control, raw) == text


@pytest.mark.parametrize("raw", [float(np.float32(raw)) for raw in (1 / 3, 0.123456789, 0.7041, 1e-7, 0.99999994)])
def test_an_exact_share_of_travel_where_the_text_is_coarse(raw):
    control = FakeControl("Gain", linear(-20, 20, decimals=0), "dB")
    text = written(control, raw)
    assert text.endswith(" % travel")
    assert np.float32(resolve(control, setting_value(text))) == np.float32(raw)


def test_the_unit_stands_once():
    assert shown(FakeControl("Gain", lambda raw: "3.0 dB", "dB"), 0.5) == "3.0 dB"
    assert shown(FakeControl("Gain", lambda raw: "3.000", "dB"), 0.5) == "3 dB"
