"""How loud each third of an octave is, twenty times a second, and where the sound begins and ends; streaming."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import scipy

from sweeper.audio.format import AudioFormat
from sweeper.meter import thirds
from sweeper.meter.grid import Doubles, Samples, nothing
from sweeper.meter.thirds import band_sums, edge_bins

WINDOWS_PER_S = 20
WINDOW_S = 0.1  # each window overlaps half of the one before
LOWEST_HZ = 20.0
#: The thirds of an octave from 50 Hz to 16 kHz. What lies from 20 Hz on under them is one band.
_FIRST, _LAST = thirds.NOMINAL_HZ.index(50), thirds.NOMINAL_HZ.index(16000)
MIDBANDS_HZ = thirds.MIDBANDS_HZ[_FIRST : _LAST + 1]
EDGES_HZ = np.concatenate(([LOWEST_HZ], thirds.EDGES_HZ[_FIRST : _LAST + 2]))
BANDS = len(EDGES_HZ) - 1
SOUND_AMPLITUDE = 10.0 ** (-70.0 / 20.0)  # under it nothing has begun: above the dither of 16 bits; ours


@dataclass(frozen=True)
class Bands:
    """frames: seen so far. windows: how many are done. powers: one array a block, (windows, BANDS).

    rest: the samples from the first frame of the next window on.
    first, end: the frame of the first sample that is sound, and the one after the last; -1 and 0 before any.
    """

    format: AudioFormat
    frames: int
    windows: int
    powers: tuple[npt.NDArray[np.float32], ...]
    rest: Samples
    first: int
    end: int


@dataclass(frozen=True)
class BandPowers:
    """What is where in a stream.

    powers: (windows, BANDS), mean squares, all channels together; window k is centred (k + 1) / 20 s from the start.
    sound: first frame that is sound, and the one after the last; None where nothing is.
    """

    rate_hz: int
    frames: int
    powers: Doubles
    sound: tuple[int, int] | None


def start(format: AudioFormat) -> Bands:
    """The state before the first sample."""
    return Bands(format, 0, 0, (), nothing(format.channels), -1, 0)


def advance(state: Bands, block: Samples) -> Bands:
    """The state after `block`, (channels, frames). However a stream is cut, the result is the same bit for bit."""
    heard = np.flatnonzero((np.abs(block) > SOUND_AMPLITUDE).any(axis=0))
    if heard.size:
        first = state.first if state.first >= 0 else state.frames + int(heard[0])
        state = replace(state, first=first, end=state.frames + int(heard[-1]) + 1)
    return _measured(replace(state, frames=state.frames + block.shape[1]), np.concatenate((state.rest, block), axis=1))


def finish(state: Bands) -> BandPowers:
    """The powers of everything seen, in thirds of an octave, a last window filled up with silence.

    A full-scale sine in both channels reads 1.0 in its band: mean squares of the channels, added. Bands above
    half the rate read 0.
    Source: definitions; bands by IEC 61260-1 (its midbands and edges, not its filters: a spectrum is cut there).
    """
    rate = state.format.rate_hz
    silence = np.zeros((state.format.channels, round(WINDOW_S * rate)), np.float32)
    powers = _measured(state, np.concatenate((state.rest, silence), axis=1)).powers
    table = np.concatenate((np.zeros((0, BANDS), np.float32), *powers)).astype(np.float64)
    sound = (state.first, state.end) if state.end else None
    return BandPowers(rate, state.frames, table[: -(-state.frames * WINDOWS_PER_S // rate)], sound)


def _measured(state: Bands, joined: Samples) -> Bands:
    """The state with every window measured that lies in `joined` as a whole; it begins at the next window."""
    rate = state.format.rate_hz
    size, begin = round(WINDOW_S * rate), _window_start(rate, state.windows)
    weights, edges = _window(size), edge_bins(EDGES_HZ, rate, size)
    found, window = [], state.windows
    while (at := _window_start(rate, window) - begin) + size <= joined.shape[1]:
        found.append(_powers(joined[:, at : at + size] * weights, edges))
        window += 1
    powers = (*state.powers, np.array(found, np.float32)) if found else state.powers
    return replace(state, windows=window, powers=powers, rest=joined[:, at:].copy())


def _window_start(rate_hz: int, window: int) -> int:
    return (2 * window * rate_hz + WINDOWS_PER_S) // (2 * WINDOWS_PER_S)


def _window(size: int) -> npt.NDArray[np.float32]:
    """A Hann window, scaled so that the squares of the one-sided spectrum add up to the mean square of a sound."""
    hann = 0.5 - 0.5 * np.cos(2.0 * np.pi * (np.arange(size) + 0.5) / size)
    scaled: npt.NDArray[np.float32] = (hann * np.sqrt(2.0 / size / np.square(hann).sum())).astype(np.float32)
    return scaled


def _powers(windowed: Samples, edges: Doubles) -> Doubles:
    spectrum = scipy.fft.rfft(windowed, axis=1)
    squares = (np.square(spectrum.real) + np.square(spectrum.imag)).sum(axis=0, dtype=np.float64)
    return band_sums(squares, edges)
