"""Whatever comes in, every measurement is a number or has a reason, and goes into JSON as it is."""

from __future__ import annotations

import json

import numpy as np
import pytest

from sweeper import meter
from sweeper.audio import AudioFormat
from sweeper.quantities import OF_FILES

RATES_HZ = (8000, 44100, 48000, 96000, 192000)
#: From far below anything that is heard to the largest 32-bit float.
SCALES = (0.0, 1e-310, 1e-45, 1e-30, 1e-6, 0.1, 1.0, 1.0000001, 40.0, 1e18, 3.4e38)


def sound(rng: np.random.Generator) -> np.ndarray:
    """Noise, clicks, steps, tones at the ends of the band, or silence between them; (1 to 8 channels, frames)."""
    channels, frames = int(rng.integers(1, 9)), int(rng.choice([0, 1, 2, 3, rng.integers(100_000), 100_000]))
    made = rng.standard_normal((channels, frames)) * rng.choice([0.0, 1.0])
    kind = rng.integers(5)
    if kind == 0:
        made *= rng.random((channels, frames)) < 0.001
    elif kind == 1:
        made = np.sign(made)
    elif kind == 2:
        made += np.cos(np.pi * rng.choice([0.0, 1e-4, 0.5, 1.0]) * np.arange(frames))
    elif kind == 3:
        made[:, : rng.integers(frames + 1)] = 0.0
    made = np.clip(made, -1, 1) * rng.choice(SCALES, (channels, 1))
    return made.astype(rng.choice([np.float32, np.float64]))


def checked(rng: np.random.Generator) -> None:
    samples = sound(rng)
    rate_hz = int(rng.choice(RATES_HZ))
    parts = {"part": [(0, int(rng.integers(1, 120_000)))]} if rng.random() < 0.3 else {}
    panel = meter.start(AudioFormat(samples.shape[0], rate_hz), parts)
    for block in np.array_split(samples, int(rng.integers(1, 4)), axis=1):
        panel = meter.advance(panel, block)
    found = meter.finish(panel)
    for each in (found, *found.sections.values()):
        for quantity in OF_FILES:
            value = each.values[quantity.key]
            assert np.isfinite(value) if value is not None else each.reasons.get(quantity.key), quantity.key
    json.dumps(found.as_data(), allow_nan=False)


SHORT = [(seed, 50) for seed in range(10)]
LONG = [pytest.param(seed, 500, marks=pytest.mark.long) for seed in range(10, 29)]


@pytest.mark.parametrize(("seed", "count"), [*SHORT, *LONG])
def test_a_number_or_a_reason(seed, count):
    """500 of them; 10,000 with --long."""
    for number in range(count):
        with np.errstate(all="raise", under="ignore"):
            checked(np.random.default_rng([seed, number]))
