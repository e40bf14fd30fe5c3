"""How far the stereo image has moved from one file to another: the balance of 3 s, a second apart; streaming."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from sweeper.audio.format import AudioFormat
from sweeper.meter.grid import Doubles, Samples, nothing

WINDOW_S = 3
SILENT_POWER = 1e-9  # -90 dBFS: a channel below it has no balance; ours, over the dither of 16 bits
GONE_UNDER = 0.01  # -20 dB: a silent channel is gone where the other file's is so far over it; ours


@dataclass(frozen=True)
class Image:
    """cells: the energies of left and right in each whole second so far, one (2,) a second."""

    format: AudioFormat
    cells: tuple[Doubles, ...]
    rest: Samples


@dataclass(frozen=True)
class Shift:
    """The largest change of balance, + leans right. at_s: where its 3 s begin. from_db, to_db: the balance there.

    gone_at_s: where a channel is silent in one file and not in the other, None = nowhere.
    """

    change_db: float | None
    at_s: float | None
    from_db: float | None
    to_db: float | None
    gone_at_s: float | None


def start(format: AudioFormat) -> Image:
    """The state before the first sample of two channels."""
    return Image(format, (), nothing(format.channels))


def advance(state: Image, block: Samples) -> Image:
    """The state after `block`, (2, frames)."""
    rate = state.format.rate_hz
    joined = np.concatenate((state.rest, block), axis=1)
    whole = joined.shape[1] // rate
    cells = tuple(_energy(joined[:, n * rate : (n + 1) * rate]) for n in range(whole))
    return replace(state, cells=state.cells + cells, rest=joined[:, whole * rate :].copy())


def shift(one: Image, other: Image, louder_db: float) -> Shift:
    """The largest change from one file to the other, over as many seconds as both have.

    louder_db: by how much the other is louder; it is looked at without.
    Source: definition (balance as in `stereo`).
    """
    ours, theirs = _windows(one), _windows(other)
    count = min(len(ours), len(theirs))
    ours, theirs = ours[:count], theirs[:count] * 10 ** (-louder_db / 10)
    sound, heard = ours.min(axis=1) > SILENT_POWER, theirs.min(axis=1) > SILENT_POWER
    loud = (ours.max(axis=1) > SILENT_POWER) & (theirs.max(axis=1) > SILENT_POWER)
    gone = np.flatnonzero(loud & (_gone(ours, theirs) | _gone(theirs, ours)))
    gone_at_s = float(gone[0]) if gone.size else None
    both = np.flatnonzero(sound & heard)
    if not both.size:
        return Shift(None, None, None, None, gone_at_s)
    balances = 10 * np.log10(np.stack([ours[both, 1] / ours[both, 0], theirs[both, 1] / theirs[both, 0]]))
    at = int(np.abs(balances[1] - balances[0]).argmax())
    before, after = float(balances[0, at]), float(balances[1, at])
    return Shift(after - before, float(both[at]), before, after, gone_at_s)


def _windows(state: Image) -> Doubles:
    """(windows, 2): mean squares of 3 s, or of all there is where that is less."""
    cells = np.array([*state.cells, *([_energy(state.rest)] if state.rest.shape[1] else [])]).reshape(-1, 2)
    frames = len(state.cells) * state.format.rate_hz + state.rest.shape[1]
    size = min(WINDOW_S, len(cells))
    sums = np.concatenate((np.zeros((1, 2)), np.cumsum(cells, axis=0)))
    span = min(size * state.format.rate_hz, frames)
    windows: Doubles = (sums[size:] - sums[: len(sums) - size]) / max(1, span)
    return np.maximum(windows, 0.0)


def _gone(one: Doubles, other: Doubles) -> npt.NDArray[np.bool_]:
    """Where a channel sounds in one file and not in the other, (windows,)."""
    gone = (one > SILENT_POWER) & (other < np.minimum(SILENT_POWER, GONE_UNDER * one))
    return np.asarray(gone.any(axis=1))


def _energy(samples: Samples) -> Doubles:
    energies: Doubles = np.square(samples.astype(np.float64)).sum(axis=1)
    return energies
