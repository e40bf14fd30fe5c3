"""Sound moved by a part of a frame: a windowed sinc.

Source: definition of band-limited interpolation; Kaiser's window for its accuracy. Up to 98 % of half the rate what is
moved differs by less than -100 dB from the ideal; the last 2 % are attenuated and mostly empty in music.
"""

from __future__ import annotations

import numpy as np
import scipy

from sweeper.meter.grid import Doubles, Samples

#: Frames to each side that one frame of the result is made of.
REACH = 256
BETA = 11.0


def earlier(samples: Samples, fraction: float) -> Doubles:
    """The sound `fraction` of a frame (-1 to 1) earlier: frame n of the result is at n + REACH + fraction of it.

    samples: (channels, at least 2 * REACH + 1 frames). The result is 2 * REACH frames shorter.
    """
    at = np.arange(-REACH, REACH + 1) + fraction
    window = np.i0(BETA * np.sqrt(np.maximum(0.0, 1 - (at / (REACH + 1)) ** 2))) / np.i0(BETA)
    taps = np.sinc(at) * window
    moved: Doubles = scipy.signal.oaconvolve(samples.astype(np.float64), taps[None, :], mode="valid", axes=1)
    return moved
