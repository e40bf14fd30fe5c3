"""Proposing the sections of a mix: where its level or its spectrum changes for longer, and which parts are alike.

The method is ours, on novelty by Foote (see novelty.py). What a part is in the music (a verse, a chorus) is not known.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import scipy

from sweeper.meter.bands import LOWEST_HZ, MIDBANDS_HZ, WINDOWS_PER_S, BandPowers
from sweeper.meter.grid import Doubles
from sweeper.meter.k_weighting import k_filter
from sweeper.meter.novelty import distance_db, novelty, peaks

WINDOWS_PER_FRAME = 10  # novelty looks at half a second at a time
FRAMES_PER_S = WINDOWS_PER_S // WINDOWS_PER_FRAME
# Down to REFINED_BY_S: ours, tried on the signals of tests/meter/test_sections.py.
LEAST_SIDE_S, MOST_SIDE_S = 4.0, 16.0  # what is compared on either side of a moment: the shortest part, within these
FLOOR_DB = -60.0  # under the loudest band of the mix, nothing is told apart
LOUDNESS_COUNTS_AS = 9  # bands: a quarter of a distance is loudness, so that one tone that gets louder is a change too
LEAST_NOVELTY_DB = 0.7  # what is less new than that begins no part
ALIKE_DB = 2.5  # parts whose mean levels differ by less, RMS over bands and loudness, are alike
REFINED_OVER_S, REFINED_BY_S = 2.0, 1.0  # a boundary is put where so much on either side differs most; how far it goes
LEAST_SOUND_S = 0.4  # one block of BS.1770: under it there is no loudness
BASS_BANDS = slice(0, int(np.searchsorted(MIDBANDS_HZ, 150.0)) + 1)  # up to the third of an octave around 125 Hz
MID_BANDS = slice(BASS_BANDS.stop, int(np.searchsorted(MIDBANDS_HZ, 2200.0)) + 1)  # to the one around 2 kHz
TOP_BANDS = slice(MID_BANDS.stop, None)


@dataclass(frozen=True)
class Part:
    """A stretch of the mix. kind: parts of one number are alike; numbers in order of appearance, from 0.

    start_s, end_s: whole tenths of a second.
    bass_db, top_db: level under 140 Hz, and over 2.2 kHz, over that between them; None where one of the two is silent.
    """

    start_s: float
    end_s: float
    kind: int
    bass_db: float | None
    top_db: float | None


def sections(found: BandPowers, most: int, shortest_s: float) -> tuple[Part, ...]:
    """The parts of a mix in order, each starting where the one before ends; one where nothing changes.

    most: how many at most. shortest_s: none is shorter, unless the sound itself is. They begin and end with the sound
    (the first and the last sample over -70 dBFS), to the tenth of a second; no part where less than 0.4 s sounds.
    Parts under 4 s at either end are not found: so much is compared on both sides of a moment, or more.
    Turning the mix up or down changes nothing. Raises ValueError for most or shortest_s under 1.
    """
    if most < 1 or shortest_s < 1.0:
        raise ValueError(f"at most {most} parts of {shortest_s} s or more: both must be at least 1")
    tenths = _sound_tenths(found)
    if tenths is None:
        return ()
    floor = _floor(found.powers)
    levels = _levels(found.powers, floor)
    chosen = [] if most == 1 else _boundaries(found, levels, floor, tenths, shortest_s)
    edges = _told_apart(levels, [tenths[0], *sorted(chosen), tenths[1]])
    edges = _told_apart(levels, _fewer(levels, edges, most))
    kinds = _kinds(np.array([_mean_levels(levels, *part) for part in pairwise(edges)]))
    return tuple(
        Part(first / 10, end / 10, kind, *_balance(found.powers, first, end))
        for (first, end), kind in zip(pairwise(edges), kinds, strict=True)
    )


def _sound_tenths(found: BandPowers) -> tuple[int, int] | None:
    """The tenth of a second in which the sound begins, and the one after its end; inside the file."""
    if found.sound is None or (found.sound[1] - found.sound[0]) < LEAST_SOUND_S * found.rate_hz:
        return None
    last = found.frames * 10 // found.rate_hz
    return found.sound[0] * 10 // found.rate_hz, min(-(-found.sound[1] * 10 // found.rate_hz), last)


def _levels(powers: Doubles, floor: float) -> Doubles:
    """Bands and loudness (LOUDNESS_COUNTS_AS times) in dB over the floor: (windows, bands) -> (windows, more)."""
    middles_hz = np.concatenate(([np.sqrt(LOWEST_HZ * MIDBANDS_HZ[0])], MIDBANDS_HZ))
    _, response = scipy.signal.sosfreqz(k_filter(48000), middles_hz, fs=48000)
    loudness = powers @ np.square(np.abs(response))
    heard = np.concatenate((powers, np.repeat(loudness[:, None], LOUDNESS_COUNTS_AS, axis=1)), axis=1)
    return np.asarray(10.0 * np.log10(np.maximum(heard, floor) / floor))


def _floor(powers: Doubles) -> float:
    """FLOOR_DB under the loudest band that the mix has for half a second."""
    loudest = float(_frame_powers(powers).max(initial=1e-30))
    return loudest * float(10.0 ** (FLOOR_DB / 10.0))


def _frame_powers(powers: Doubles) -> Doubles:
    whole = len(powers) // WINDOWS_PER_FRAME * WINDOWS_PER_FRAME
    return np.asarray(powers[:whole].reshape(-1, WINDOWS_PER_FRAME, powers.shape[1]).mean(axis=1))


def _boundaries(found: BandPowers, levels: Doubles, floor: float, tenths: tuple[int, int],
                shortest_s: float) -> list[int]:  # fmt: skip
    """Tenths of a second where a part may begin: the newest first, none too near another."""
    begin = tenths[0] * WINDOWS_PER_S // 10
    frames = _levels(_frame_powers(found.powers[begin : tenths[1] * WINDOWS_PER_S // 10]), floor)
    side = round(min(max(shortest_s, LEAST_SIDE_S), MOST_SIDE_S) * FRAMES_PER_S)
    chosen: list[int] = []
    for peak in peaks(novelty(frames, side), LEAST_NOVELTY_DB):
        tenth = _refined(levels, tenths[0] + round((int(peak) + 1) * 10 / FRAMES_PER_S), tenths)
        if all(abs(tenth - other) >= shortest_s * 10 for other in (*tenths, *chosen)):
            chosen.append(tenth)
    return chosen


def _refined(levels: Doubles, tenth: int, tenths: tuple[int, int]) -> int:
    """The tenth of a second nearby at which the mean levels before and after differ most, weighted by their length."""
    first, end = max(tenth - round(REFINED_OVER_S * 10), tenths[0]), min(tenth + round(REFINED_OVER_S * 10), tenths[1])
    reach = round(REFINED_BY_S * 10)
    places = range(max(tenth - reach, first + 5), min(tenth + reach, end - 5) + 1)
    return max(places, key=lambda place: _change(levels, first, place, end), default=tenth)


def _change(levels: Doubles, first: int, place: int, end: int) -> float:
    apart = distance_db(_mean_levels(levels, first, place), _mean_levels(levels, place, end))
    return float(np.square(apart)) * (place - first) * (end - place) / (end - first)


def _mean_levels(levels: Doubles, first: int, end: int) -> Doubles:
    """Mean level of each band over the windows whose centres lie between two tenths of a second, ends not included."""
    inside = levels[2 * first : max(2 * end - 1, 2 * first + 1)]
    return np.asarray(inside.mean(axis=0))


def _told_apart(levels: Doubles, edges: list[int]) -> list[int]:
    """The edges without those that have like parts on both sides: the least first, until none is left."""
    while len(edges) > 2:
        means = [_mean_levels(levels, *part) for part in pairwise(edges)]
        steps = [float(distance_db(one, other)) for one, other in pairwise(means)]
        least = min(range(len(steps)), key=steps.__getitem__)
        if steps[least] >= ALIKE_DB:
            break
        edges = edges[: least + 1] + edges[least + 2 :]
    return edges


def _fewer(levels: Doubles, edges: list[int], most: int) -> list[int]:
    """The edges of at most `most` parts: out go those whose parts are joined at the least cost (Ward, from memory)."""
    while len(edges) - 1 > most:
        costs = [_change(levels, *three) for three in zip(edges, edges[1:], edges[2:], strict=False)]
        least = min(range(len(costs)), key=costs.__getitem__)
        edges = edges[: least + 1] + edges[least + 2 :]
    return edges


def _kinds(means: Doubles) -> list[int]:
    """A number for each part: those whose mean levels all differ by less than ALIKE_DB share one."""
    groups = [[part] for part in range(len(means))]
    apart = distance_db(means[:, None], means[None, :])
    while len(groups) > 1:
        pairs = [(apart[np.ix_(one, other)].max(), i, j + i + 1)
                 for i, one in enumerate(groups) for j, other in enumerate(groups[i + 1 :])]  # fmt: skip
        widest, one, other = min(pairs)
        if widest >= ALIKE_DB:
            break
        groups[one] += groups.pop(other)
    numbers = {part: number for number, group in enumerate(sorted(groups, key=min)) for part in group}
    return [numbers[part] for part in range(len(means))]


def _balance(powers: Doubles, first: int, end: int) -> tuple[float | None, float | None]:
    """Bass over mids and top over mids, dB, of the mean powers."""
    mean = powers[2 * first : max(2 * end - 1, 2 * first + 1)].mean(axis=0)
    bass, mid, top = (float(mean[bands].sum()) for bands in (BASS_BANDS, MID_BANDS, TOP_BANDS))
    return _over(bass, mid), _over(top, mid)


def _over(one: float, other: float) -> float | None:
    return 10.0 * float(np.log10(one / other)) if one > 1e-15 and other > 1e-15 else None
