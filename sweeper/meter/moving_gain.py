"""One sound as another times a gain that moves: the gain, window by window, and what it leaves over; streaming.

Hann windows of 10 ms, every 5 ms, so that they add up to one everywhere: in each the gain that leaves the least over
(least squares, all channels together), between their middles the gain that the windows' own slopes blend.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import cast

import numpy as np

from sweeper.audio.format import AudioFormat
from sweeper.meter.grid import Doubles, Samples, carve, nothing

WINDOW_S = 0.01
#: Hops that are worked out at a time, counted from the first frame, so that how a stream arrives changes nothing.
STRIDE_HOPS = 200


@dataclass(frozen=True)
class Fit:
    """What has been seen so far. sound, model: of the last hop, (channels, hop). gain: where that hop begins.

    parts: what `Fitted` holds, one array a stride. rest: model under sound, what is left of a stride.
    """

    hop_frames: int
    sound: Doubles
    model: Doubles
    gain: float
    parts: tuple[tuple[Doubles, Doubles, Doubles, Doubles], ...]
    rest: Samples


@dataclass(frozen=True)
class Fitted:
    """By window, one a hop: gains (1.0 = as the model), model_powers (sums of the model's squares under the window).

    By hop: powers and left_powers, sums of the squares of the sound and of what the gain leaves over. hop_s: a hop.
    """

    hop_s: float
    gains: Doubles
    model_powers: Doubles
    powers: Doubles
    left_powers: Doubles

    @property
    def left(self) -> float | None:
        """What is left over against the sound, a ratio of powers; None when there is no sound."""
        power = float(self.powers.sum())
        return float(self.left_powers.sum()) / power if power > 0 else None

    @property
    def attenuation_db(self) -> Doubles:
        """The gains as dB of attenuation, one a window, at most 120."""
        return np.asarray(0.0 - 20.0 * np.log10(np.maximum(self.gains, 1e-6)))


def start(format: AudioFormat) -> Fit:
    """The state before the first sample."""
    hop = round(WINDOW_S / 2 * format.rate_hz)
    silent = np.zeros((format.channels, hop))
    return Fit(hop, silent, silent, 0.0, (), nothing(2 * format.channels))


def advance(state: Fit, sound: Samples, model: Samples) -> Fit:
    """The state after a block of both, (channels, frames) each, aligned to the sample."""
    stride = STRIDE_HOPS * state.hop_frames
    whole, rest = carve(state.rest, np.concatenate((sound, model)), stride)
    for at in range(0, whole.shape[1], stride):
        state = _taken_in(state, whole[:, at : at + stride])
    return replace(state, rest=rest)


def finish(state: Fit, rate_hz: int) -> Fitted:
    """The gains and what they leave over, of everything seen. rate_hz: as in the format of the start."""
    missing = -state.rest.shape[1] % state.hop_frames + state.hop_frames
    state = _taken_in(state, np.pad(state.rest, ((0, 0), (0, missing))))
    gains, model_powers, powers, left_powers = (np.concatenate(each) for each in zip(*state.parts, strict=True))
    return Fitted(state.hop_frames / rate_hz, gains[:-1], model_powers[:-1], powers[1:], left_powers[1:])


def _taken_in(state: Fit, both: Samples) -> Fit:
    """The state after whole hops of both. What the last of them leaves over shows only with the hop after it."""
    count, hop = both.shape[0] // 2, state.hop_frames
    doubles = both.astype(np.float64)
    sound = np.concatenate((state.sound, doubles[:count]), axis=1).reshape(count, -1, hop)
    model = np.concatenate((state.model, doubles[count:]), axis=1).reshape(count, -1, hop)
    halves = _halves(hop)
    alike, model_powers = (_under_windows(one, model, halves) for one in (sound, model))
    gains = np.divide(alike, model_powers, out=np.zeros_like(alike), where=model_powers > 0)
    moving = sloping(np.concatenate(([state.gain], gains[:-1])), gains, hop)
    left = sound[:, :-1] - moving * model[:, :-1]
    powers, left_powers = (np.square(one).sum(axis=(0, 2)) for one in (sound[:, :-1], left))
    parts = (*state.parts, (gains, model_powers, powers, left_powers))
    return replace(state, sound=sound[:, -1], model=model[:, -1], gain=float(gains[-1]), parts=parts)


def sloping(before: Doubles, after: Doubles, hop_frames: int) -> Doubles:
    """From one value to the next, (hops,) each, as the windows' slopes blend them: (hops, hop_frames)."""
    return np.stack((after, before), axis=1) @ _halves(hop_frames)


def _halves(hop_frames: int) -> Doubles:
    """The rising and the falling half of a Hann window, (2, hop); they add up to one."""
    rising = np.square(np.sin(np.pi / 2 * (np.arange(hop_frames) + 0.5) / hop_frames))
    return np.stack((rising, 1.0 - rising))


def _under_windows(one: Doubles, other: Doubles, halves: Doubles) -> Doubles:
    """Sums of the products of two sounds (channels, hops, hop) under the windows, one on each pair of hops."""
    sums = (one * other).sum(axis=0) @ halves.T
    return cast(Doubles, sums[:-1, 0] + sums[1:, 1])
