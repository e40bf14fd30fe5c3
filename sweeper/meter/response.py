"""The linear response of several channels on several others, by turns: what is left over is asked for more of it.

Cross spectra of what is left over and the sound, times the inverse of the sound's own, in Hann windows that overlap by
half (Welch, 1967): the transfer matrix of several inputs (Bendat and Piersol, Random Data, 4th ed., chapter 7). One
turn finds a response as far as it is short against the windows; from what that leaves over, the next finds more.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import scipy

from sweeper.meter.grid import Doubles, Samples

Spectra = npt.NDArray[np.complexfloating]

#: Of the taps, those that come before the sound that they answer to: a delay that was aligned too far, linear phase.
AHEAD = 1 / 4
#: Windows against the taps, and from one to the next.
WINDOW_TAPS, HOP_TAPS = 2, 1
#: Of the taps, those that are faded at either end.
FADED = 1 / 8
#: So much of the loudest part of the spectrum is added everywhere: less cannot be divided by. Ours.
LEAST_SHARE = 1e-12
#: Blocks of an FFT against the taps, the longer while it has no more frames than that: bounds the memory.
BLOCK_TAPS, LONGER_TAPS, LONGER_FRAMES = 2, 4, 2**19


@dataclass(frozen=True)
class Asked:
    """A sound, (channels, frames), and how many taps its response is to have; a power of two.

    inverse: of its spectra, window by window, (taps + 1, channels, channels).
    """

    sound: Samples
    taps: int
    inverse: Spectra

    @property
    def first(self) -> int:
        """The first frame of the sound at which every tap has something to answer to."""
        return self.taps - 1 - round(AHEAD * self.taps)

    @property
    def frames(self) -> int:
        """How many of these frames there are."""
        return int(self.sound.shape[1]) - self.taps + 1


def asked(sound: Samples, taps: int) -> Asked:
    """What of a sound decides the response; it has to be three times as long as the taps at least."""
    channels = len(sound)
    own = np.zeros((taps + 1, channels, channels), np.complex128)
    unknown = Asked(sound, taps, own)
    for at in _windows(unknown):
        heard = _windowed(sound, unknown.first + at, taps)
        own += heard.T.conj()[:, :, None] * heard.T[:, None, :]
    least = LEAST_SHARE * float(np.abs(own).max(initial=0.0)) or 1.0
    return Asked(sound, taps, np.linalg.inv(own + least * np.eye(channels)))


def found(of: Asked, left: Samples) -> Doubles:
    """The response, (outputs, channels, taps), that explains most of what is left over, (outputs, `of.frames`)."""
    sums = np.zeros((len(left), len(of.sound), of.taps + 1), np.complex128)
    for at in _windows(of):
        heard = _windowed(of.sound, of.first + at, of.taps).conj()
        for output, one in enumerate(_windowed(left, at, of.taps)):
            sums[output] += one * heard
    ahead, fade = round(AHEAD * of.taps), _fade(of.taps)
    response = np.empty((len(left), len(of.sound), of.taps))
    for output, one in enumerate(sums):
        taps = scipy.fft.irfft(np.einsum("if,fji->jf", one, of.inverse))
        response[output] = np.concatenate((taps[:, -ahead:], taps[:, : of.taps - ahead]), axis=1) * fade
    return response


def through(of: Asked, response: Doubles) -> Iterator[tuple[int, Doubles]]:
    """The sound through a response, block by block, each with its first frame, counted from `of.first` on."""
    size = max(BLOCK_TAPS * of.taps, min(LONGER_TAPS * of.taps, LONGER_FRAMES))
    spectra = scipy.fft.rfft(response, size)
    for at in range(0, of.frames, size - of.taps + 1):
        heard = scipy.fft.rfft(of.sound[:, at : at + size].astype(np.float64), size)
        whole = scipy.fft.irfft(np.stack([(one * heard).sum(axis=0) for one in spectra]), size)
        yield at, whole[:, of.taps - 1 : of.frames - at + of.taps - 1]


def _windows(of: Asked) -> range:
    return range(0, of.frames - WINDOW_TAPS * of.taps + 1, HOP_TAPS * of.taps)


def _windowed(sound: Samples, at: int, taps: int) -> Spectra:
    frames = WINDOW_TAPS * taps
    window = np.square(np.sin(np.pi * (np.arange(frames) + 0.5) / frames)).astype(np.float32)
    spectra: Spectra = scipy.fft.rfft(sound[:, at : at + frames] * window)
    return spectra


def _fade(taps: int) -> Doubles:
    count = round(FADED * taps)
    rising = np.square(np.sin(np.pi / 2 * (np.arange(count) + 0.5) / count))
    return np.concatenate((rising, np.ones(taps - 2 * count), rising[::-1]))
