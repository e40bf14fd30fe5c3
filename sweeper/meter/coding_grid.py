"""Traces of a transform coder: on its own grid of blocks, much of the spectrum was rounded to nothing.

A coder cuts the sound into overlapping blocks, transforms each (MDCT) and rounds; most high coefficients become zero.
Decoded, the sound shows nothing of it, until it is cut into blocks at exactly the same places, with the same window:
there the zeros come back. So every place is tried, and one that stands out is no chance.
Source of the idea: J. Herre, M. Schug, "Analysis of Decompressed Audio: The Inverse Decoder", AES 109th Convention,
2000 (from memory); the windows: ISO/IEC 14496-3 (sine, and Kaiser-Bessel derived with alpha 4), the Vorbis I
specification, section 1.3.2 (all from memory). How it judges is ours; hit rates: DEVELOPERS.md, decisions.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sweeper.meter.grid import Samples

Singles = NDArray[np.float32]
#: Coefficients of one long block, of AAC and of Vorbis at the rates that music is sold in.
HOP = 1024
#: Blocks that a stretch is cut into, at every place.
BLOCKS = 6
STRETCH_FRAMES = (BLOCKS + 2) * HOP
#: Places tried at a time.
AT_A_TIME = 64
#: Where coefficients are counted: below, little is rounded away; above, coders often give nothing at all.
LOWEST_HZ, HIGHEST_HZ = 3000.0, 15000.0
#: Under everything that a 24-bit word holds.
LEAST = 1e-7
#: A place stands out when it lies so many standard deviations (by the median deviation), and so many dB, below the
#: others. Ours, tried: see DEVELOPERS.md.
CLEAR_SIGMAS, CLEAR_DB = 7.0, 2.5
SIGMA_OF_MEDIAN_DEVIATION = 1.4826


@dataclass(frozen=True)
class CodingGrid:
    """window: "Kaiser-Bessel", "sine" or "Vorbis". sigmas, depth_db: how far the place stands out of the others."""

    window: str
    sigmas: float
    depth_db: float

    @property
    def clear(self) -> bool:
        """It is no chance."""
        return self.sigmas >= CLEAR_SIGMAS and self.depth_db >= CLEAR_DB

    @property
    def coder(self) -> str:
        """Whose window it is."""
        return "Vorbis" if self.window == "Vorbis" else "AAC"


def coding_grid(
    stretches: Sequence[tuple[int, Samples]], rate_hz: int, beat: Callable[[], None] = lambda: None
) -> CodingGrid | None:
    """The likeliest grid in stretches of one stream; None where there is none to try, or nothing in them.

    stretches: the frame that each begins at, and (channels, STRETCH_FRAMES) of it. beat: called now and then.
    """
    found: CodingGrid | None = None
    whole = [(at, samples) for at, samples in stretches if samples.shape[1] >= STRETCH_FRAMES and samples.any()]
    for heard in _heard(whole):
        for name, window in WINDOWS.items():
            grid = _deepest(name, _depths(heard, window, rate_hz, beat))
            if found is None or min(grid.sigmas, 40.0) * grid.depth_db > min(found.sigmas, 40.0) * found.depth_db:
                found = grid
        if found is not None and found.clear:
            break
    return found


def _heard(stretches: Sequence[tuple[int, Samples]]) -> list[list[tuple[int, Singles]]]:
    """What coders code: the left channel, and the middle."""
    if not stretches:
        return []
    first = [(at, samples[0].astype(np.float32)) for at, samples in stretches]
    if len(stretches[0][1]) == 1:
        return [first]
    return [first, [(at, samples[:2].mean(axis=0).astype(np.float32)) for at, samples in stretches]]


def _depths(
    stretches: Sequence[tuple[int, Singles]], window: Singles, rate_hz: int, beat: Callable[[], None]
) -> NDArray[np.float64]:
    """The mean level of the coefficients, log10, for a grid that begins at each of HOP places."""
    from scipy.fft import dct

    first, last = (min(HOP, round(hz / (rate_hz / 2) * HOP)) for hz in (LOWEST_HZ, HIGHEST_HZ))
    sums = np.zeros(HOP)
    for at, samples in stretches:
        views = np.lib.stride_tricks.sliding_window_view(samples, 2 * HOP)
        for place in range(0, HOP, AT_A_TIME):
            begins = (np.arange(place, place + AT_A_TIME) - at) % HOP
            blocks = views[(begins[:, None] + HOP * np.arange(BLOCKS)).ravel()]
            coefficients = np.abs(dct(_folded(blocks * window), type=4, axis=1)[:, first:last])
            levels = np.log10(coefficients + np.float32(LEAST)).mean(axis=1, dtype=np.float64)
            sums[place : place + AT_A_TIME] += levels.reshape(AT_A_TIME, BLOCKS).mean(axis=1)
        beat()
    return sums / len(stretches)


def _folded(blocks: Singles) -> Singles:
    """Windowed blocks (n, 2 HOP) as what their MDCT is the DCT-IV of: (a, b, c, d) -> (-c_r - d, a - b_r)."""
    half = HOP // 2
    a, b, c, d = (blocks[:, n * half : (n + 1) * half] for n in range(4))
    return np.concatenate((-c[:, ::-1] - d, a - b[:, ::-1]), axis=1)


def _deepest(name: str, depths: NDArray[np.float64]) -> CodingGrid:
    place = int(np.argmin(depths))
    others = np.delete(depths, [(place + step) % HOP for step in range(-2, 3)])
    usual = float(np.median(others))
    spread = SIGMA_OF_MEDIAN_DEVIATION * float(np.median(np.abs(others - usual)))
    below = usual - float(depths[place])
    return CodingGrid(name, below / spread if spread else 0.0, 20.0 * below)


def _windows() -> dict[str, Singles]:
    at = (np.arange(2 * HOP) + 0.5) / (2 * HOP)
    kaiser = np.cumsum(np.kaiser(HOP + 1, 4.0 * np.pi))
    rise = np.sqrt(kaiser[:-1] / kaiser[-1])
    found = {
        "sine": np.sin(np.pi * at),
        "Kaiser-Bessel": np.concatenate((rise, rise[::-1])),
        "Vorbis": np.sin(np.pi / 2 * np.sin(np.pi * at) ** 2),
    }
    return {name: window.astype(np.float32) for name, window in found.items()}


WINDOWS = _windows()
