"""What one sound is to another that was made from it, beyond a filter and a gain that moves: residue and attenuation.

For two files, where nothing can be sent through what made one of the other (`meter/quiet_copy` is for that): the linear
response is found from the two. By turns the output, less what a response and a moving gain explain of it, is asked for
more response, and the gain is fitted again; first by least squares, then with less weight on what is explained least,
where a limiter or a clipper is at work, or its work would be taken for a part of the response.
Our own method; held in the tests against the quiet copy of the same processors.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from sweeper.audio.format import AudioFormat
from sweeper.meter import moving_gain, response
from sweeper.meter.grid import Doubles, Samples
from sweeper.meter.loudest import powers_of
from sweeper.meter.moving_gain import WINDOW_S, Fitted
from sweeper.meter.quiet_copy import (
    CLEAR_OF_FLOOR_DB,
    HEARD_DB,
    LOST,
    NO_SOUND,
    ROUNDING_DB,
    Explained,
    attenuation,
    left_db,
    within,
)
from sweeper.meter.response import Asked

# What follows is ours, tried on music and the processors of tests/meter/test_identified.py.
#: How long the response may be, rounded to a power of two in frames: 65,536 of them at 44.1 and 48 kHz.
RESPONSE_S = 65536 / 48000
#: Frames for each tap that is to be found: what too few of them explain is chance.
FRAMES_A_TAP = 8
SHORTEST_S = 0.5
#: How much of what each turn finds is taken, by least squares: more than all of it now and then reaches those parts
#: that a turn finds little of (Richardson's iteration with changing steps); and how often with weights after that.
STEPS = (1.0, 1.0, 3.0, 1.0, 1.0)
WEIGHTED_STEPS = (3.0, 1.0, 1.0, 1.0)
#: This gain is 0 dB: what 5 % of the windows that are heard exceed.
REFERENCE_PERCENT = 95.0
#: Where the gain is less than this (-20 dB), what is left over counts for less.
LEAST_GAIN = 0.1
#: What is left over counts in full up to so many percent of the time that is heard.
IN_FULL_PERCENT = 50.0
#: Of the taps at either end, those that show what a longer response would still hold.
ENDS = 1 / 8
#: How much is worked out at a time.
STRIDE_HOPS, BLOCK_FRAMES = 200, 65536
#: Rounding with triangular dither: steps squared (Lipshitz, Wannamaker and Vanderkooy, JAES 40, 1992).
DITHERED = 1 / 4

TOO_SHORT = f"shorter than {SHORTEST_S:g} s: no response can be found"
NOTHING_IN = "nothing goes in"
RELATIVE = "attenuation is told against where it is least: reduction that never lets go cannot be told from a level"


def identified(sound: Samples, made: Samples, rate_hz: int, step: float = 0.0,
               beat: Callable[[], None] = lambda: None) -> Explained:  # fmt: skip
    """Residue and attenuation of whatever made one sound of the other.

    sound: what went in, (channels, frames); made: what came out, as many, aligned to within some milliseconds; level,
    polarity, delay and what channels give each other are part of the response. step: between the values that `made`
    can have; 0 = floats. beat: called now and then, a sign of life. A response is as long as there is sound for
    (`FRAMES_A_TAP`), up to 1.4 s, a quarter of that ahead; where it is not whole, at the two ends, nothing is told.

    residue_db, floor_db: as of `quiet_copy`; the floor is what is left of the sound through the response that was
    found when that is identified in turn, or what the ends of that response still hold, or the rounding of `made`.
    attenuation_db and what is beside it: 0 dB is the gain that 5 % of the heard windows exceed: the reduction itself
    where as much is not reduced; where everything is, the difference to what is reduced least.
    """
    if sound.shape[1] < SHORTEST_S * rate_hz:
        return _nothing(TOO_SHORT)
    of = response.asked(sound, _taps(len(sound), sound.shape[1], rate_hz))
    heard = made[:, of.first : of.first + of.frames]
    power = _power(heard)
    if power <= 0 or not of.sound.any():
        return _nothing(NOTHING_IN if power > 0 else NO_SOUND)
    found, fitted = _explained(of, heard, rate_hz, beat)
    rounding = DITHERED * step**2 * heard.size
    floor_db = 10.0 * math.log10(max(_missed(of, found, beat) / power, rounding / power, 10 ** (ROUNDING_DB / 10)))
    residue_db = left_db(fitted)
    assert residue_db is not None
    lost = residue_db < floor_db + CLEAR_OF_FLOOR_DB
    return Explained(residue_db, floor_db, *attenuation(fitted), (*((LOST,) if lost else ()), RELATIVE))


def _nothing(why: str) -> Explained:
    return Explained(None, ROUNDING_DB, None, None, None, None, (why,))


def _taps(channels: int, frames: int, rate_hz: int) -> int:
    """A power of two, 8 at least."""
    most = math.floor(math.log2(frames / (FRAMES_A_TAP * channels)))
    return int(2 ** max(3, min(round(math.log2(RESPONSE_S * rate_hz)), most)))


def _explained(of: Asked, made: Samples, rate_hz: int, beat: Callable[[], None]) -> tuple[Doubles, Fitted]:
    """The response and the gain that explain `made`, gains against the reference."""
    found = np.zeros((len(made), len(of.sound), of.taps))
    left, model = made, np.empty(made.shape, np.float32)
    for turn, share in enumerate((*STEPS, *WEIGHTED_STEPS), 1):
        beat()
        found += share * response.found(of, left)
        fitted = _fitted(of, found, made, model, rate_hz)
        reference = _reference(fitted)
        found *= reference
        fitted = replace(fitted, gains=fitted.gains / reference, model_powers=fitted.model_powers * reference**2)
        weights = _weights(fitted) if turn >= len(STEPS) else np.ones_like(fitted.gains)
        model *= np.float32(reference)
        _take_from(made, model, fitted.gains, weights, round(WINDOW_S / 2 * rate_hz))
        left = model
    return found, fitted


def _fitted(of: Asked, found: Doubles, made: Samples, model: Samples, rate_hz: int) -> Fitted:
    """The gain over a response; what goes through that is left in `model`."""
    fit = moving_gain.start(AudioFormat(len(made), rate_hz))
    for at, block in response.through(of, found):
        end = at + block.shape[1]
        model[:, at:end] = block
        fit = moving_gain.advance(fit, made[:, at:end], model[:, at:end])
    return moving_gain.finish(fit, rate_hz)


def _reference(fitted: Fitted) -> float:
    heard = fitted.gains[within(fitted.model_powers, HEARD_DB)]
    reference = float(np.percentile(heard, REFERENCE_PERCENT, method="nearest")) if heard.size else 0.0
    return reference if reference > 0 else 1.0


def _weights(fitted: Fitted) -> Doubles:
    """One a window: 1.0 where no more is left over than half of the time, less where there is more."""
    heard = within(fitted.powers, HEARD_DB)
    shares = np.divide(fitted.left_powers, fitted.powers, out=np.zeros_like(fitted.powers), where=fitted.powers > 0)
    usual = float(np.percentile(shares[heard], IN_FULL_PERCENT, method="nearest"))
    weights = np.minimum(1.0, np.divide(usual, shares, out=np.ones_like(shares), where=shares > 0))
    return np.asarray(np.minimum(weights, np.concatenate((weights[:1], weights[:-1]))))


def _take_from(made: Samples, model: Samples, gains: Doubles, weights: Doubles, hop_frames: int) -> None:
    """Leave in `model` what the gains on it do not explain of `made`, as it would be without them, weighted."""
    for first in range(0, gains.size, STRIDE_HOPS):
        begin, end = first * hop_frames, min((first + STRIDE_HOPS) * hop_frames, made.shape[1])
        gain, weight = (_sloping(each, first, hop_frames)[: end - begin] for each in (gains, weights))
        back = weight * np.maximum(gain, 0.0) / np.square(np.maximum(gain, LEAST_GAIN))
        model[:, begin:end] = back * (made[:, begin:end] - gain * model[:, begin:end])


def _sloping(values: Doubles, first: int, hop_frames: int) -> Doubles:
    """The values of windows from hop `first` on, one a frame, at most `STRIDE_HOPS` hops."""
    several = np.concatenate((values[first : first + STRIDE_HOPS + 1], values[-1:]))
    return moving_gain.sloping(several[:-1], several[1:], hop_frames).reshape(-1)


def _missed(of: Asked, found: Doubles, beat: Callable[[], None]) -> float:
    """The power of what the same turns miss of the sound through a response; of its ends, if that is more."""
    missed = found.copy()
    left = np.empty((len(found), of.frames), np.float32)
    for share in STEPS:
        beat()
        for at, block in response.through(of, missed):
            left[:, at : at + block.shape[1]] = block
        missed -= share * response.found(of, left)
    ends, count = found.copy(), round(ENDS * of.taps)
    ends[:, :, count : of.taps - count] = 0.0
    return max(_power_through(of, missed), _power_through(of, ends))


def _power_through(of: Asked, found: Doubles) -> float:
    return sum(_power(block) for _, block in response.through(of, found))


def _power(samples: Samples) -> float:
    blocks = (samples[:, at : at + BLOCK_FRAMES] for at in range(0, samples.shape[1], BLOCK_FRAMES))
    return float(powers_of(blocks).sum())
