"""Correlation, side over mid, balance: what follows from their definitions, and numpy."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from signals import cut, noise, programme, silence, sine

from sweeper.audio.format import AudioFormat
from sweeper.meter import cells, stereo

LEFT = sine(-6.0, 1.0, channels=1)[0]
RIGHT_ANGLE = np.cos(2 * np.pi * 1000 / 48000 * np.arange(48000)) * 10 ** (-6 / 20)
NOTHING = np.zeros(48000)


def measured(left_and_right, blocks=None):
    samples = np.asarray(left_and_right)
    state = cells.start(AudioFormat(len(samples), 48000))
    for block in blocks if blocks is not None else [samples]:
        state = cells.advance(state, block)
    return stereo.finish(cells.finish(state))


def test_equal_channels_correlate_and_have_no_side():
    findings = measured([LEFT, LEFT])
    assert findings["correlation"].value == 1.0
    assert findings["balance_db"].value == 0.0
    assert findings["side_mid_db"].value is None
    assert findings["side_mid_db"].reason == "no side: left and right are the same"


def test_opposite_channels_have_no_mid():
    findings = measured([LEFT, -LEFT])
    assert findings["correlation"].value == -1.0
    assert findings["side_mid_db"].value is None
    assert findings["side_mid_db"].reason == "no mid: left and right are opposite"


def test_a_right_angle_is_unrelated():
    findings = measured([LEFT, RIGHT_ANGLE])
    assert findings["correlation"].value == pytest.approx(0.0, abs=1e-9)
    assert findings["side_mid_db"].value == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(("samples", "dead"), [([LEFT, NOTHING], "right"), ([NOTHING, LEFT], "left")])
def test_a_dead_channel_has_no_correlation_and_no_balance(samples, dead):
    findings = measured(samples)
    assert findings["correlation"].value is None
    assert findings["correlation"].reason == f"the {dead} channel is silent"
    assert findings["balance_db"] == findings["correlation"]
    assert findings["side_mid_db"].value == pytest.approx(0.0, abs=1e-9)


def test_independent_noise_is_unrelated():
    # |correlation| of n unrelated samples stays under 3 / sqrt(n) in all but 0.3 % of draws
    samples = noise(10.0, seed=2)
    assert abs(measured(samples)["correlation"].value) < 3 / np.sqrt(samples.shape[1])


@pytest.mark.parametrize("balance_db", [-12.0, 0.5, 6.0])
def test_balance_is_right_over_left(balance_db):
    assert measured([LEFT, LEFT * 10 ** (balance_db / 20)])["balance_db"].value == pytest.approx(balance_db)


@pytest.mark.parametrize("side_db", [-140.0, -60.0, -6.0, 3.0])
def test_side_over_mid(side_db):
    # L = M + S, R = M - S; quiet sides do not drown in the rounding of loud mids
    mid, side = LEFT, RIGHT_ANGLE * 10 ** (side_db / 20)
    assert measured([mid + side, mid - side])["side_mid_db"].value == pytest.approx(side_db, abs=0.01)


@pytest.mark.parametrize("seed", range(3))
def test_correlation_agrees_with_numpy(seed):
    # numpy.corrcoef takes the mean out, which is next to nothing here
    samples = programme(5.0, seed=seed)
    samples -= samples.mean(axis=1, keepdims=True)
    assert measured(samples)["correlation"].value == pytest.approx(np.corrcoef(samples)[0, 1], abs=1e-9)


def test_swapping_channels_turns_the_balance_round():
    music = programme(1.0)
    here, there = measured(music), measured(music[::-1])
    assert there["balance_db"].value == pytest.approx(-here["balance_db"].value)
    assert there["correlation"].value == pytest.approx(here["correlation"].value)


@pytest.mark.parametrize(
    ("samples", "why"),
    [(np.ones((1, 99)), "one channel: no stereo to measure"), (np.ones((5, 99)), "measured for two channels only"),
     (silence(1.0), "digital silence"), (np.zeros((2, 0)), "no samples")],
)  # fmt: skip
def test_what_has_no_stereo_says_why(samples, why):
    assert {(finding.value, finding.reason) for finding in measured(samples).values()} == {(None, why)}


@settings(max_examples=50, deadline=None)
@given(sizes=st.lists(st.integers(1, 9000), min_size=1, max_size=5), frames=st.integers(1, 30000))
def test_chunking_never_changes_a_bit(sizes, frames):
    music = programme(0.7)[:, :frames].astype(np.float32)
    assert measured(music, cut(music, sizes)) == measured(music)
