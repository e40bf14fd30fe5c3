"""Watching one stage at work: whether what it puts out can be what was meant.

Plugins without a licence put in noise, beeps or silence; others do nothing outside the program they were made for. What
goes in and what comes out are kept as levels in octave bands, window by window, and judged when all has been heard.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from sweeper.host.finding import Finding
from sweeper.host.outbursts import Levels, bursts_s, drop_outs_s
from sweeper.units import clock, gain

#: About how long a window is; the number of frames is the nearest power of two.
WINDOW_S = 0.023
#: The first line of each octave band among the lines of a window's spectrum, which lie 31 to 62 Hz apart. Low rates
#: have fewer bands.
BAND_LINES = (0, 4, 8, 16, 32, 64, 128, 256)
#: Nothing is heard below this; and what is at least so loud is no silence.
SILENT_DBFS, SOUNDING_DBFS = -100.0, -60.0
#: An output that differs from the input by no more than this share of the input's peak is the input.
SAME = gain(-120.0)
#: Where two differ by more than this, no peak makes them the same.
DIFFERENT = 1e-4
FLOOR_POWER = 1e-16
#: The parts of left and right that are looked at together: unequal, so that no side signal vanishes.
UNEQUAL = np.array([0.6, 0.4], np.float32)
#: How many positions are told.
TOLD = 3

Samples = NDArray[np.float32]


@dataclass(frozen=True)
class Watch:
    """What has been seen so far. went_in, came_out: what no window holds yet, one channel, (frames,).

    seen: for each block heard, the levels going in and coming out, (windows, bands) in dBFS, and how far the output is
    a copy of the input, (windows,). peak_in, peak_out, largest_difference: of the samples compared so far.
    """

    rate_hz: int
    tail_s: float
    window_frames: int
    went_in: Samples
    came_out: Samples
    seen: tuple[tuple[Samples, Samples, Samples], ...] = field(default=(), repr=False)
    peak_in: float = 0.0
    peak_out: float = 0.0
    largest_difference: float = 0.0


def start(rate_hz: int, tail_s: float = 0.0) -> Watch:
    """The state before the first sample. tail_s: how long the stage is known to ring on."""
    nothing = np.zeros(0, np.float32)
    return Watch(rate_hz, tail_s, 2 ** round(math.log2(rate_hz * WINDOW_S)), nothing, nothing)


def advance(watch: Watch, went_in: Samples, came_out: Samples) -> Watch:
    """The state after a block. went_in, came_out: (channels, frames); came_out is aligned, and may be shorter.

    Frames are paired in the order in which they come, so that what a delay keeps back is no difference.
    """
    went = _joined(watch.went_in, _one_channel(went_in))
    came = _joined(watch.came_out, _one_channel(came_out))
    whole = min(len(went), len(came)) // watch.window_frames * watch.window_frames
    watch = replace(watch, went_in=went[whole:], came_out=came[whole:])
    return _compared(watch, went[:whole], came[:whole]) if whole else watch


def finish(watch: Watch) -> tuple[Finding, ...]:
    """What there is to say of everything seen; () = nothing, which is the rule.

    Silence: nothing above -100 dBFS came of an input above -60 dBFS. Dry: the output is the input, within -120 dB of
    its peak; no fault, a stage may be set so. Bursts and drop-outs: see `host/outbursts.py`. Source: common practice,
    no standard; the limits were tried on music.
    """
    frames = min(len(watch.went_in), len(watch.came_out))
    if frames:
        short = (0, -frames % watch.window_frames)
        watch = _compared(watch, np.pad(watch.went_in[:frames], short), np.pad(watch.came_out[:frames], short))
    if not watch.seen or watch.peak_in < gain(SOUNDING_DBFS):
        return _uncalled_for(watch)
    if watch.peak_out < gain(SILENT_DBFS):
        return (Finding("silent", "put out silence"),)
    if watch.largest_difference <= SAME * watch.peak_in:
        return (Finding("dry", "changed nothing: its output is its input"),)
    return _uncalled_for(watch)


def _uncalled_for(watch: Watch) -> tuple[Finding, ...]:
    if not watch.seen:
        return ()
    went_in, came_out, likeness = (np.concatenate(parts).astype(np.float64) for parts in zip(*watch.seen, strict=True))
    levels = Levels(went_in, came_out, likeness, watch.window_frames / watch.rate_hz, watch.tail_s)
    found = []
    if at_s := bursts_s(levels):
        many = f"{len(at_s)} bursts" if len(at_s) > 1 else "a burst"
        found.append(Finding("bursts", f"put out {many} that its input does not explain, "
                             f"{_places(at_s)}; a plugin without a licence does that", at_s))  # fmt: skip
    if at_s := drop_outs_s(levels):
        often = f"{len(at_s)} times" if len(at_s) > 1 else "once"
        found.append(Finding("drop-outs", f"fell silent {often} where its input did not, "
                             f"{_places(at_s)}; a plugin without a licence does that", at_s))  # fmt: skip
    return tuple(found)


def _places(at_s: tuple[float, ...]) -> str:
    return "at " + ", ".join(map(clock, at_s[:TOLD])) + (" ..." if len(at_s) > TOLD else "")


def _one_channel(block: Samples) -> Samples:
    """One channel of (channels, frames)."""
    mixed: Samples = block[0] if block.shape[0] == 1 else np.dot(UNEQUAL, block)
    return mixed


def _joined(rest: Samples, more: Samples) -> Samples:
    return np.concatenate([rest, more]) if len(rest) else more


def _compared(watch: Watch, went: Samples, came: Samples) -> Watch:
    """With as many frames of both, whole windows."""
    difference = watch.largest_difference
    if difference < DIFFERENT:
        difference = max(difference, _peak(came - went))
    went_windows, came_windows = went.reshape(-1, watch.window_frames), came.reshape(-1, watch.window_frames)
    seen = (_band_levels(went_windows), _band_levels(came_windows), _likeness(went_windows, came_windows))
    return replace(watch, seen=(*watch.seen, seen), peak_in=max(watch.peak_in, _peak(went)),
                   peak_out=max(watch.peak_out, _peak(came)), largest_difference=difference)  # fmt: skip


def _peak(samples: Samples) -> float:
    return float(max(samples.max(), -samples.min()))


def _band_levels(windows: Samples) -> Samples:
    """The mean square in each octave band of each window, (windows, bands), in dB re a full-scale square wave."""
    lines = scipy.fft.rfft(windows, axis=1)
    powers = lines.real**2
    powers += lines.imag**2
    first_lines = [line for line in BAND_LINES if line < powers.shape[1]]
    bands = np.add.reduceat(powers, first_lines, axis=1) * np.float32(2 / windows.shape[1] ** 2)
    found: Samples = 10 * np.log10(bands + np.float32(FLOOR_POWER))
    return found


def _likeness(went: Samples, came: Samples) -> Samples:
    """The share of each window's output that is its input times a factor, 0 to 1, (windows,)."""
    both, squares = _products(went, came), _products(went, went) * _products(came, came)
    found: Samples = np.square(both) / np.maximum(squares, np.float32(1e-30))
    return found


def _products(one: Samples, other: Samples) -> Samples:
    found: Samples = np.einsum("wf,wf->w", one, other)
    return found
