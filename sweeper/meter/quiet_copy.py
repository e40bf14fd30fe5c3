"""What a processor does to a sound that no linear processor could: residue and attenuation, by a quiet copy.

The same sound goes through the same settings once more, 42 dB lower, and is scaled back up: that is the processor's
linear response, whatever it is (equaliser, delay, make-up, reverberation). The output is that copy times a gain that
moves (the attenuation) and what is left over (the residue). A third copy, 30 dB lower, shows how far down that can be
trusted: where the two copies differ, the processor adds noise of its own, or is still at work so far down.
Our own method; the figures of known processors are held in the tests.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from sweeper.audio.format import AudioFormat
from sweeper.meter import moving_gain
from sweeper.meter.grid import Doubles, Samples
from sweeper.meter.loudest import loudest_start
from sweeper.meter.moving_gain import Fit, Fitted
from sweeper.units import gain

#: What the two copies are multiplied by on the way in, -42.1 and -30.1 dB: powers of two, so that nothing is rounded.
QUIET, LESS_QUIET = 1 / 128, 1 / 32
# What follows down to CLEAR_OF_FLOOR_DB is ours, tried on the processors of tests/meter/test_quiet_copy.py, but for
# NOISE_BETWEEN, which follows from the factors.
#: The attenuation is told over the loudest stretch of so many seconds.
LOUDEST_S = 30.0
#: Windows so far below the loudest say nothing of the attenuation: pauses, noise.
HEARD_DB = 60.0
#: The attenuation over time is told in steps of this, of each the most.
OVER_TIME_S = 0.1
#: From here on a processor is at work.
WORKING_DB = 0.5
#: Nothing below this can be told of sound in 32-bit floats.
ROUNDING_DB = -150.0
#: The copies' own difference in gain, where they are loudest, from which a processor is still at work on them.
STILL_WORKING_DB, AT_LOUDEST_DB = 0.2, 6.0
#: A gain leaves less between them than this, noise that drowns the lower one more. Ours, tried on a stage of noise and
#: compressors at work 42 dB down.
ALIKE_DB = -10.0
#: Noise of equal power in both, lifted as they are, leaves so many times more between them than is in the higher.
NOISE_BETWEEN = 1 + (LESS_QUIET / QUIET) ** 2
#: Windows say nothing of the attenuation where the copy is not so many times the power of its noise.
CLEAR_OF_NOISE = 4.0
#: How much more the lower copy must leave over for its noise to be what shows.
NOISIER_DB = 0.5
#: A residue is lost in its floor up to so far above it.
CLEAR_OF_FLOOR_DB = 3.0

NOISY = "its own noise shows: what is told is against the copy 30 dB lower, and no less than the floor can be told"
STILL_AT_WORK = "still at work 30 dB lower: attenuation is told from what it does 42 dB lower"
LOST = "the residue is lost in the floor"
NO_SOUND = "nothing comes out"


@dataclass(frozen=True)
class Copies:
    """What has been seen so far, of the output against either copy, and of the copies against each other."""

    rate_hz: int
    of_quiet: Fit
    of_less_quiet: Fit
    between: Fit


@dataclass(frozen=True)
class Explained:
    """residue_db: RMS of what is left over against that of the output; None when nothing comes out.

    floor_db: no residue below it can be told. attenuation_db: what 5 % of the loudest 30 s exceed; median_db and
    most_db (0.1 %) beside it; positive = turned down; against what it does to quiet sound, so that steady reduction
    counts and make-up does not. working_share: share of that time, 0 to 1, above 0.5 dB. remarks: in words.
    over_time_db: the most of every OVER_TIME_S from the first sample on, None in pauses; () = not told.
    """

    residue_db: float | None
    floor_db: float
    attenuation_db: float | None
    median_db: float | None
    most_db: float | None
    working_share: float | None
    remarks: tuple[str, ...] = ()
    over_time_db: tuple[float | None, ...] = ()


def start(format: AudioFormat) -> Copies:
    """The state before the first sample."""
    fit = moving_gain.start(format)
    return Copies(format.rate_hz, fit, fit, fit)


def advance(state: Copies, output: Samples, quiet: Samples, less_quiet: Samples) -> Copies:
    """The state after a block of each, (channels, frames), aligned; the copies as they came out, not yet scaled up."""
    lower, higher = quiet.astype(np.float64) / QUIET, less_quiet.astype(np.float64) / LESS_QUIET
    return replace(
        state, of_quiet=moving_gain.advance(state.of_quiet, output, lower),
        of_less_quiet=moving_gain.advance(state.of_less_quiet, output, higher),
        between=moving_gain.advance(state.between, lower, higher),
    )  # fmt: skip


def finish(state: Copies, repeats_db: float | None = None) -> Explained:
    """Residue and attenuation of everything seen.

    repeats_db: by how much two renders of the same differ, RMS against the sound; None = not at all. A gain and an
    equaliser leave nothing over and attenuate nothing; a sine clipped hard at +6 dB of drive leaves -13 dB.
    """
    fits = (state.of_quiet, state.of_less_quiet, state.between)
    of_quiet, of_less_quiet, between = (moving_gain.finish(fit, state.rate_hz) for fit in fits)
    floors_db = (left_db(between), repeats_db, ROUNDING_DB)
    floor_db = max(floor for floor in floors_db if floor is not None)
    low_db, high_db = left_db(of_quiet), left_db(of_less_quiet)
    if low_db is None or high_db is None:
        return Explained(None, floor_db, None, None, None, None, (NO_SOUND,))
    alike = (left_db(between) or ROUNDING_DB) < ALIKE_DB
    working = alike and abs(_at_loudest_db(between)) >= STILL_WORKING_DB
    noisy = not working and low_db - high_db >= NOISIER_DB
    residue_db = high_db if noisy else low_db
    said = {NOISY: noisy, STILL_AT_WORK: working, LOST: residue_db < floor_db + CLEAR_OF_FLOOR_DB}
    remarks = tuple(words for words, holds in said.items() if holds)
    told_by = _without_noise(of_less_quiet, between) if noisy else of_quiet
    return Explained(residue_db, floor_db, *attenuation(told_by), remarks, over_time_db(told_by))


def left_db(fitted: Fitted) -> float | None:
    """What is left over against the sound, RMS, no less than rounding; None when there is no sound."""
    left = fitted.left
    return None if left is None else 10.0 * math.log10(max(left, gain(ROUNDING_DB) ** 2))


def _without_noise(of_less_quiet: Fitted, between: Fitted) -> Fitted:
    """The fit less the noise in its model, which makes every gain look smaller; what is lost in noise has no power."""
    noise = float(np.median(between.left_powers)) / NOISE_BETWEEN
    powers = of_less_quiet.model_powers
    clear = powers > CLEAR_OF_NOISE * noise
    sound = np.where(clear, powers - noise, 0.0)
    gains = np.where(clear, of_less_quiet.gains * powers / np.where(clear, sound, 1.0), 0.0)
    return replace(of_less_quiet, gains=gains, model_powers=sound)


def attenuation(fitted: Fitted) -> tuple[float | None, float | None, float | None, float | None]:
    """95th percentile, median, 99.9th percentile and the share at work, over the loudest stretch."""
    first, last = _loudest(fitted)
    powers, attenuation_db = fitted.model_powers[first:last], fitted.attenuation_db[first:last]
    heard = attenuation_db[within(powers, HEARD_DB)]
    if not heard.size:
        return None, None, None, None
    most, median, highest = (float(np.percentile(heard, percent, method="nearest")) for percent in (95.0, 50.0, 99.9))
    return most, median, highest, float(np.mean(heard > WORKING_DB))


def over_time_db(fitted: Fitted) -> tuple[float | None, ...]:
    """The most attenuation in every OVER_TIME_S from the first window on, to a hundredth; None in pauses."""
    heard = within(fitted.model_powers, HEARD_DB)
    steps = (np.arange(heard.size) * fitted.hop_s / OVER_TIME_S + 1e-9).astype(np.int64)
    most_db = np.full(steps[-1] + 1 if steps.size else 0, -np.inf)
    np.maximum.at(most_db, steps[heard], fitted.attenuation_db[heard])
    return tuple(None if value == -np.inf else round(value, 2) for value in most_db.tolist())


def _at_loudest_db(between: Fitted) -> float:
    """The gain of the lower copy against the higher where they are loudest, turned over; 0 when there is no sound."""
    loudest = between.attenuation_db[within(between.model_powers, AT_LOUDEST_DB)]
    return float(np.median(loudest)) if loudest.size else 0.0


def within(powers: Doubles, below_db: float) -> npt.NDArray[np.bool_]:
    """Which of the windows have power, and no less than so far below the loudest."""
    near: npt.NDArray[np.bool_] = (powers > 0) & (powers >= powers.max(initial=0.0) * gain(-below_db) ** 2)
    return near


def _loudest(fitted: Fitted) -> tuple[int, int]:
    """First and last (not included) window of the loudest stretch, by the power of the copy."""
    count = min(round(LOUDEST_S / fitted.hop_s), fitted.model_powers.size)
    first = loudest_start(fitted.model_powers, count)
    return first, first + count
