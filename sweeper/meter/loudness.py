"""Integrated, momentary and short-term loudness, loudness range and mono loss, streaming.

The K-weighted signal is reduced to the energies of 10 ms sub-blocks; every window is a sum of those.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass, replace
from typing import cast

import numpy as np
import numpy.typing as npt

from sweeper.audio.format import AudioFormat
from sweeper.meter import compiled
from sweeper.meter.findings import EMPTY, TWO_ONLY, Finding, Findings, absent, found, level
from sweeper.meter.gating import OFFSET_LUFS, integrated, loudness_range
from sweeper.meter.grid import Doubles, Samples, carve, nothing
from sweeper.meter.k_weighting import k_filter

SURROUND = 1.41  # BS.1770-5 Annex 1, Table 3
#: number of channels -> weight of each: mono; L R; L R C; 5.0 as L R C Ls Rs; 5.1 as L R C LFE Ls Rs.
WEIGHTS = {1: (1.0,), 2: (1.0, 1.0), 3: (1.0, 1.0, 1.0), 5: (1.0, 1.0, 1.0, SURROUND, SURROUND),
           6: (1.0, 1.0, 1.0, 0.0, SURROUND, SURROUND)}  # fmt: skip
SUB_BLOCKS_PER_S = 100
MOMENTARY, SHORT_TERM, HOP = 40, 300, 10  # sub-blocks: 400 ms, 3 s, 100 ms
APPENDED_S = 1.5  # silence after the end, for the range only: EBU Tech 3342 v4, comment in the reference code
TINY = 1e-100  # a filter memory under this is taken as zero: it would crawl on denormals
Frames = npt.NDArray[np.int64]
NO_MOMENTARY, NO_SHORT_TERM = "shorter than 400 ms", "shorter than 3 s"
KEYS = ("loudness_lufs", "momentary_max_lufs", "short_term_max_lufs", "loudness_range_lu")


@dataclass(frozen=True)
class Loudness:
    """memory: of the K filter at the end of the last sub-block weighed. energies: of these, (channels, 100 or more)
    an array, and the last few in `recent`; for two channels a third row, the sum of left * right. rest: the samples
    since. weighed: how many sub-blocks. Compiled loops weigh every one that is whole, numpy every second."""

    format: AudioFormat
    filter: Doubles
    memory: Doubles
    energies: tuple[Doubles, ...]
    recent: Doubles
    rest: Samples
    weighed: int


def start(format: AudioFormat) -> Loudness:
    """The state before the first sample. Raises ValueError below 8000 Hz."""
    memory = np.zeros((2, format.channels, 2))
    recent = np.zeros((_rows(format), 0))
    return Loudness(format, k_filter(format.rate_hz), memory, (), recent, nothing(format.channels), 0)


def advance(state: Loudness, block: Samples) -> Loudness:
    """The state after `block`, (channels, frames)."""
    rate, loop = state.format.rate_hz, _loop(block)
    step = rate // SUB_BLOCKS_PER_S if loop and not rate % SUB_BLOCKS_PER_S else rate
    whole, rest = carve(state.rest, block, step)
    memory, recent, at_once = state.memory, [state.recent], rate if step == rate else max(whole.shape[1], 1)
    for begin in range(0, whole.shape[1], at_once):
        part, memory = _energies(state, memory, whole[:, begin : begin + at_once])
        recent.append(part)
    energies, last = state.energies, np.concatenate(recent, axis=1)
    weighed = state.weighed + last.shape[1] - state.recent.shape[1]
    if last.shape[1] >= SUB_BLOCKS_PER_S:
        energies, last = (*energies, last), last[:, :0]
    return replace(state, memory=memory, energies=energies, recent=last, rest=rest, weighed=weighed)


def finish(state: Loudness) -> Findings:
    """loudness_lufs, momentary_max_lufs, short_term_max_lufs, loudness_range_lu and mono_loss_lu.

    Momentary is the loudest 400 ms, short-term the loudest 3 s, both ungated at 10 ms hops; a last incomplete
    window is not used. A 1000 Hz sine at -23 dBFS in both channels reads -22.99 on all three. Mono loss is
    integrated loudness minus that of (L+R)/2 on both channels: 0 for equal channels, 3.01 for one channel.
    Silence and signals too short for one window have no value; range under 60 s is marked as not yet stable.
    Source: ITU-R BS.1770-5 Annex 1; EBU Tech 3341 v4 section 2.2; EBU Tech 3342 v4. Mono loss: ours.
    """
    if why := unmeasured(state):
        return dict.fromkeys((*KEYS, "mono_loss_lu"), absent(why))
    frames = _frames_in(state)
    energies, summed, edges = _summed(state)
    complete = _sub_blocks_in(state.format.rate_hz, frames)
    momentary = _window_powers(summed[:complete], edges, MOMENTARY)
    into_silence = _window_powers(summed, edges, SHORT_TERM)
    short_term = into_silence[: max(complete - SHORT_TERM + 1, 0)]
    loudness = integrated(momentary[::HOP]) if momentary.size else absent(NO_MOMENTARY)
    return {
        "loudness_lufs": loudness,
        "momentary_max_lufs": _loudest(momentary, NO_MOMENTARY),
        "short_term_max_lufs": _loudest(short_term, NO_SHORT_TERM),
        "loudness_range_lu": loudness_range(into_silence[::HOP], frames / state.format.rate_hz)
        if short_term.size else absent(NO_SHORT_TERM),
        "mono_loss_lu": _mono_loss(state.format, loudness, energies[:, :complete], edges),
    }  # fmt: skip


def over_time(state: Loudness) -> tuple[Doubles, Doubles]:
    """Powers of the momentary (400 ms) and the short-term (3 s) windows that begin every 100 ms, (windows,) each.

    Window k begins k / 10 s from the start; a last incomplete one is not used. 10 log10 of a power, and OFFSET_LUFS,
    is its loudness; `integrated` of the momentary ones is loudness_lufs. Empty when the stream is too short, or has a
    number of channels without weights.
    Source: EBU Tech 3341 v4 section 2.2 (both windows, ungated, at least ten times a second).
    """
    if unmeasured(state):
        return np.zeros(0), np.zeros(0)
    _, summed, edges = _summed(state)
    heard = summed[: _sub_blocks_in(state.format.rate_hz, _frames_in(state))]
    return _window_powers(heard, edges, MOMENTARY)[::HOP], _window_powers(heard, edges, SHORT_TERM)[::HOP]


def _summed(state: Loudness) -> tuple[Doubles, Doubles, Frames]:
    """Of everything seen and the silence after it: energies, (rows, sub-blocks), their weighted sums, and the edges."""
    weights, energies = WEIGHTS[state.format.channels], _with_silence(state)
    edges = _edges(state.format.rate_hz, energies.shape[1])
    return energies, np.asarray(weights) @ energies[: len(weights)], edges


def unmeasured(state: Loudness) -> str:
    """Why a stream has no loudness at all, however long; "" where it has."""
    if not _frames_in(state):
        return EMPTY
    channels = state.format.channels
    return "" if channels in WEIGHTS else f"no loudness weights are defined for {channels} channels"


def sub_blocks(state: Loudness, first: int, end: int) -> Doubles:
    """The energies of some sub-blocks that have been weighed, counted from the start, (rows, end - first)."""
    parts, begin = [state.recent], state.weighed - state.recent.shape[1]
    for part in reversed(state.energies):
        if begin <= first:
            break
        parts.append(part)
        begin -= part.shape[1]
    return np.concatenate(parts[::-1], axis=1)[:, first - begin : end - begin]


def _frames_in(state: Loudness) -> int:
    """How many frames have been seen."""
    return state.weighed * state.format.rate_hz // SUB_BLOCKS_PER_S + int(state.rest.shape[1])


def _energies(state: Loudness, memory: Doubles, stretch: Samples) -> tuple[Doubles, Doubles]:
    """Energies of the sub-blocks in `stretch`, which starts with one; the filter's memory after the last of them."""
    edges = _edges(state.format.rate_hz, _sub_blocks_in(state.format.rate_hz, stretch.shape[1]))
    energies, memory = np.zeros((_rows(state.format), len(edges) - 1)), memory.copy()
    loop = _loop(stretch)
    if loop is None:
        return energies, _with_numpy(state.filter, stretch[:, : edges[-1]], memory, edges, energies)
    rows = [compiled.row(channel) for channel in stretch]
    if len(rows) == 2:
        loop(state.filter, *rows, TINY, memory, edges, energies)
    else:
        for channel, samples in enumerate(rows):
            loop(state.filter, samples, channel, TINY, memory, edges, energies)
    return energies, memory


def _loop(samples: Samples) -> compiled.Loop | None:
    return compiled.made(compiled.weigh_two if len(samples) == 2 else compiled.weigh, samples.dtype)


def _with_numpy(filter: Doubles, stretch: Samples, memory: Doubles, edges: Frames, energies: Doubles) -> Doubles:
    """Fill `energies`, zeros so far; the filter's memory afterwards."""
    if np.abs(memory).max() < TINY and max(stretch.max(initial=0.0), -stretch.min(initial=0.0)) < TINY:
        return np.zeros_like(memory)
    from scipy import signal  # takes a second to load, and the compiled loops do without

    heard, memory = signal.sosfilt(filter, stretch, zi=memory)
    product = np.empty(heard.shape[1])
    for row in range(len(energies)):
        one, other = (heard[0], heard[1]) if row == len(heard) else (heard[row], heard[row])
        np.add.reduceat(np.multiply(one, other, out=product), edges[:-1], out=energies[row])
    return memory


def _with_silence(state: Loudness) -> Doubles:
    """Every sub-block energy, and those of the silence appended after the end."""
    silence = np.zeros((state.format.channels, round(APPENDED_S * state.format.rate_hz)))
    last, _ = _energies(state, state.memory, np.concatenate((state.rest, silence), axis=1))
    return np.concatenate((*state.energies, state.recent, last), axis=1)


def _rows(format: AudioFormat) -> int:
    return 3 if format.channels == 2 else format.channels


@functools.lru_cache(maxsize=16)
def _edges(rate_hz: int, sub_blocks: int) -> Frames:
    """The frames where sub-blocks start and end: k * rate / 100, rounded; (sub_blocks + 1,)."""
    count = np.arange(sub_blocks + 1, dtype=np.int64)
    edges = (2 * count * rate_hz + SUB_BLOCKS_PER_S) // (2 * SUB_BLOCKS_PER_S)
    edges.setflags(write=False)
    return edges


def _sub_blocks_in(rate_hz: int, frames: int) -> int:
    """How many sub-blocks end at or before `frames`."""
    return (2 * SUB_BLOCKS_PER_S * frames + SUB_BLOCKS_PER_S - 1) // (2 * rate_hz)


def _window_powers(energies: Doubles, edges: Frames, width: int) -> Doubles:
    """Mean power of every window of `width` sub-blocks, one a sub-block; empty when there is no whole one."""
    if energies.size < width:
        return np.zeros(0)
    ends = edges[: energies.size + 1]
    return cast(Doubles, _sums(_sums(energies, HOP, 1), width, HOP) / (ends[width:] - ends[:-width]))


def _sums(values: Doubles, width: int, step: int) -> Doubles:
    """At each place the sum of the values `step` apart from there on, as many as fit in `width` single ones.

    Sums of ten, and of these: as exact as adding all, and unlike a running sum just as exact after loud parts.
    """
    count = values.size - width + step
    return cast(Doubles, sum(values[begin : begin + count] for begin in range(0, width, step)))


def _loudest(powers: Doubles, too_short: str) -> Finding:
    return level(float(powers.max()), OFFSET_LUFS) if powers.size else absent(too_short)


def _mono_loss(format: AudioFormat, loudness: Finding, energies: Doubles, edges: Frames) -> Finding:
    if format.channels != 2:
        return absent("one channel: already mono" if format.channels == 1 else TWO_ONLY)
    if loudness.value is None:
        return loudness
    left, right, across = energies
    powers = np.maximum(_window_powers((left + right) / 2.0 + across, edges, MOMENTARY), 0.0)
    mono = integrated(powers[::HOP], "nothing is left of it in mono")
    return mono if mono.value is None else found(loudness.value - mono.value)
