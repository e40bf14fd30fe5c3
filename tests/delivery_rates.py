"""The rates that masters are delivered at, for tests that hold a standard at each; the slower ones run with --long."""

import pytest

USUAL = (44100, 48000)
HIGH = (88200, 96000, 176400, 192000)
RATES = [*USUAL, *(pytest.param(rate_hz, marks=pytest.mark.long) for rate_hz in HIGH)]
EVERY = [*USUAL, *HIGH]
