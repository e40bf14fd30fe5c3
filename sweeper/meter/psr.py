"""Peak to short-term loudness ratio: how little the peaks stand out where they stand out least; streaming.

A value between samples is worked out only where it could change the smallest ratio: what is skipped changes nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from sweeper.audio.format import AudioFormat
from sweeper.meter import between, loudness, windows
from sweeper.meter.findings import Findings, absent, level
from sweeper.meter.gating import OFFSET_LUFS
from sweeper.meter.grid import Doubles, Samples, frames_of, kept, nothing
from sweeper.meter.true_peak import STRETCH
from sweeper.meter.windows import STEPS, STEPS_PER_S

AROUND_S = 3  # what lies before and behind a second in the windows that hold a part of it
BATCHES = (8, 32, 128)  # stretches at a time; the last is repeated
QUIET = "no 3 s of it are above -70 LUFS"


@dataclass(frozen=True)
class Psr:
    """sample: the highest sample of every 100 ms, one array of ten a whole second.

    least: the smallest ratio so far, of squares; infinite before any. Of the first second that is not judged yet:
    judged: how many came before it. true: the peaks of the last 3 s of those. before: their last frames.
    waiting: it and the whole seconds behind it. rest: the samples since then.
    """

    format: AudioFormat
    sample: tuple[Doubles, ...]
    least: float
    judged: int
    true: Doubles
    before: Samples
    waiting: tuple[Samples, ...]
    rest: tuple[Samples, ...]


def start(format: AudioFormat) -> Psr:
    """The state before the first sample, which silence precedes."""
    before = np.zeros((format.channels, STRETCH), np.float32)
    unborn = np.full(AROUND_S * STEPS_PER_S, np.inf)  # no window starts before the first sample
    return Psr(format, (), np.inf, 0, unborn, before, (), (nothing(format.channels),))


def advance(state: Psr, block: Samples, heard: loudness.Loudness) -> Psr:
    """The state after `block`, (channels, frames). heard: the loudness of the same stream, after `block` as well.

    However a stream is cut, the result is the same bit for bit.
    """
    return _advance(state, block, heard, np.inf)


def finish(state: Psr, heard: loudness.Loudness) -> Findings:
    """psr_db: true peak minus short-term loudness over the same 3 s, the smallest of all windows, one every 100 ms.

    Windows under -70 LUFS do not count. A full-scale 997 Hz sine in both channels reads 0, in one channel 3.01. The
    peak in a window is what `true_peak` finds there, looking beyond the window's ends. None under 3 s, in silence,
    and for channels that have no loudness.
    Source: the ratio as in "Measuring Micro-Dynamics", AES 143rd Convention (2017); smallest, step and gate: ours.
    """
    found = windows.windows(heard)
    if found.reason:
        return {"psr_db": absent(found.reason)}
    if not found.heard.any():
        return {"psr_db": absent(QUIET)}
    rate, frames = state.format.rate_hz, len(state.sample) * state.format.rate_hz + frames_of(state.rest)
    silence = np.zeros((state.format.channels, -frames % rate + AROUND_S * rate), np.float32)
    ended = _advance(state, silence, loudness.advance(heard, silence), found.powers.size)
    return {"psr_db": level(ended.least, -OFFSET_LUFS)}


def sample_peaks(state: Psr) -> Doubles:
    """The highest sample of every 100 ms, the last second filled up with silence; (steps,)."""
    silence = np.zeros((state.format.channels, state.format.rate_hz - frames_of(state.rest)), np.float32)
    rest = np.concatenate((*state.rest, silence), axis=1)
    return np.concatenate((*state.sample, _sample_peaks(rest)))


def _advance(state: Psr, block: Samples, heard: loudness.Loudness, whole: float) -> Psr:
    """The same; whole: how many windows lie inside the stream, as far as is known."""
    rate = state.format.rate_hz
    rest = kept(state.rest, block)
    if frames_of(rest) < rate:
        return replace(state, rest=rest)
    joined = np.concatenate(rest, axis=1)
    end = joined.shape[1] // rate * rate
    state = replace(state, rest=(joined[:, end:].copy(),))
    for at in range(0, end, rate):
        second = joined[:, at : at + rate].copy()
        state = replace(state, sample=(*state.sample, _sample_peaks(second)), waiting=(*state.waiting, second))
        if len(state.waiting) > AROUND_S:
            state = _judged(state, heard, whole)
    return state


def _sample_peaks(second: Samples) -> Doubles:
    firsts = windows.edges(second.shape[1], STEPS_PER_S)[:-1]
    both = np.maximum.reduceat(second, firsts, axis=1), -np.minimum.reduceat(second, firsts, axis=1)
    return np.asarray(np.concatenate(both).max(axis=0), np.float64)


def _judged(state: Psr, heard: loudness.Loudness, whole: float) -> Psr:
    """The state with the first second that waits judged."""
    known = np.concatenate((state.true, *state.sample[state.judged : state.judged + AROUND_S + 1]))
    powers = _powers(state, heard, whole)
    true = known[: AROUND_S * STEPS_PER_S + STEPS_PER_S]
    if (_ratios(known, powers) < state.least).any():
        joined = np.concatenate((state.before, state.waiting[0], state.waiting[1][:, :STRETCH]), axis=1)
        known = _search(joined, known, powers, state)
        true = known[: true.size]
    ended = _ratios(known, powers)[1 : STEPS_PER_S + 1]
    return replace(state, least=min(state.least, float(ended.min())), judged=state.judged + 1, true=true[STEPS_PER_S:],
                   before=state.waiting[0][:, -STRETCH:].copy(), waiting=state.waiting[1:])  # fmt: skip


def _powers(state: Psr, heard: loudness.Loudness, whole: float) -> Doubles:
    """The loudness of the 41 windows from 3 s before the second on; 0 for those that do not count."""
    first = state.judged - AROUND_S
    steps = np.concatenate((np.zeros(max(-first, 0) * STEPS_PER_S),
                            windows.steps(heard, max(first, 0), state.judged + AROUND_S + 1)))  # fmt: skip
    powers = windows.sums(steps) / windows.frames_in(state.format.rate_hz, steps.size)
    numbers = first * STEPS_PER_S + np.arange(powers.size)
    return np.where((powers >= windows.LEAST_POWER) & (numbers >= 0) & (numbers < whole), powers, 0.0)


def _ratios(known: Doubles, powers: Doubles) -> Doubles:
    """The square of every window's peak over its power; infinite for those that do not count."""
    squares = np.square(windows.maxima(known))
    return np.divide(squares, powers, out=np.full_like(powers, np.inf), where=powers > 0.0)


def _search(joined: Samples, known: Doubles, powers: Doubles, state: Psr) -> Doubles:
    """`known`, raised to the peaks of the second as far as they matter.

    known: what every 100 ms from 3 s before it to 3 s behind it have at least.
    """
    cut, known = between.stretches(state.format.rate_hz), known.copy()
    bounds = between.bounds(joined, cut.starts).ravel()
    order = np.flatnonzero(bounds > np.tile(_needed(known, powers, state.least)[cut.steps], len(joined)))
    order, turn = order[np.argsort(-bounds[order], kind="stable")], 0
    while True:
        needed = _needed(known, powers, state.least)
        order = order[bounds[order] > needed[cut.steps[order % cut.starts.size]]]
        if not order.size:
            return known
        size = BATCHES[min(turn, len(BATCHES) - 1)]
        channels, chosen = np.divmod(order[:size], cut.starts.size)
        steps = cut.steps[chosen]
        found = between.highest(joined, channels, chosen, state.format.rate_hz, needed[steps])
        np.maximum.at(known, steps + AROUND_S * STEPS_PER_S, found)
        order, turn = order[size:], turn + 1


def _needed(known: Doubles, powers: Doubles, least: float) -> Doubles:
    """What a peak has to exceed to matter to a window around it, in each of the ten steps of the second.

    Infinite where every window around has a larger ratio than the smallest one anyway.
    """
    wanted = np.where(_ratios(known, powers) < least, windows.maxima(known), np.inf)
    return np.asarray(sliding_window_view(wanted, STEPS).min(axis=1)[1 : STEPS_PER_S + 1])
