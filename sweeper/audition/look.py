"""What the page shows of a sound: loudness over time, waveform, overs, spectrum. `look_at` runs in workers."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any

import numpy as np

from sweeper import meter
from sweeper.audio import audio_hash, inspect
from sweeper.meter import envelope, loudness, thirds
from sweeper.meter.gating import OFFSET_LUFS, integrated
from sweeper.meter.grid import Doubles
from sweeper.quantities import Measurements
from sweeper.render.one_pass import metered
from sweeper.render.orders import FILE_PATIENCE_S
from sweeper.workers import Report

COLUMNS = 1200
#: A block of integrated loudness is four tenths of a second: BS.1770-5 Annex 1.
TENTHS_IN_BLOCK = 4
SHORT_TERM_STEP_S = 0.5
#: Counts the changes of what a look holds; a look of another count is not read.
VERSION = 1


@dataclass(frozen=True)
class LookOrder:
    """Look at a file, which holds the whole sound at the rate that it is played at."""

    file: Path


@dataclass(frozen=True)
class Look:
    """power_100ms: K-weighted mean square, summed over the channels, of every whole tenth of a second. low, high: in
    COLUMNS equal stretches, over all channels. overs_s: stretches with samples at or above full scale, their middles.
    band_powers: mean square in each third of an octave. short_term_lufs: one every SHORT_TERM_STEP_S, of the 3 s that
    begin there; None = silence. peak: the highest sample, 1.0 = 0 dBFS. sha256: of the samples.
    """

    channels: int
    rate_hz: int
    frames: int
    data_offset: int
    sha256: str
    measurements: Mapping[str, Any]
    power_100ms: tuple[float, ...]
    short_term_lufs: tuple[float | None, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    overs_s: tuple[float, ...]
    band_powers: tuple[float, ...]

    @property
    def measured(self) -> Measurements:
        """Every measurement of the file."""
        return Measurements.from_data(self.measurements)

    def as_data(self) -> dict[str, Any]:
        """For JSON."""
        return {"version": VERSION, **asdict(self)}

    @staticmethod
    def from_data(data: Mapping[str, Any]) -> Look:
        """Back from `as_data`. Raises KeyError, TypeError or ValueError for what this version did not write."""
        if data["version"] != VERSION:
            raise ValueError(f"a look of version {data['version']}")
        values = {one.name: data[one.name] for one in fields(Look)}
        plain: dict[str, Any] = {key: tuple(one) if isinstance(one, list) else one for key, one in values.items()}
        return Look(**plain)


def look_at(order: LookOrder, report: Report) -> Look:
    """Look at one file in one pass. Raises AudioFileError when it cannot be read or holds what is no sample."""
    report.phase(f"looking at {order.file.name}", FILE_PATIENCE_S)
    file = inspect(order.file)
    outline = envelope.start(file.format, file.frames, COLUMNS)

    def drawn(block: np.ndarray) -> None:
        nonlocal outline
        outline = envelope.advance(outline, block)

    panel = metered(file, {}, report, drawn)
    drawing = envelope.finish(outline)
    _, short_term = loudness.over_time(panel.whole.loudness)
    overs = np.flatnonzero(drawing.overs)
    return Look(
        file.format.channels, file.format.rate_hz, file.frames, _data_offset(order.file), audio_hash(file),
        meter.finish(panel).as_data(), _rounded(powers(panel.whole.loudness)),
        tuple(_lufs(power) for power in short_term[:: round(10 * SHORT_TERM_STEP_S)].tolist()),
        _rounded(drawing.lows.min(axis=0), 4), _rounded(drawing.highs.max(axis=0), 4),
        _rounded((overs + 0.5) * file.duration_s / drawing.overs.size, 5),
        _rounded(thirds.finish(panel.whole.thirds), 5),
    )  # fmt: skip


def powers(heard: loudness.Loudness) -> Doubles:
    """The K-weighted mean square of every whole 100 ms, channels weighted and summed, (tenths,).

    Four of them in a row make a block of BS.1770: `of_blocks`.
    """
    tenth = loudness.SUB_BLOCKS_PER_S // 10
    if loudness.unmeasured(heard):
        return np.zeros(0)
    count = heard.weighed // tenth * tenth
    energies = loudness.sub_blocks(heard, 0, count)
    weights = np.asarray(loudness.WEIGHTS[heard.format.channels])
    summed = (weights @ energies[: len(weights)]).reshape(-1, tenth).sum(axis=1)
    edges = np.round(np.arange(summed.size + 1) * heard.format.rate_hz / 10)
    return np.asarray(summed / np.diff(edges))


def loudness_of(power_100ms: Sequence[float], stretches: Sequence[tuple[float, float]] = ()) -> float | None:
    """Integrated loudness, LUFS, over some stretches in seconds, those blocks of 400 ms that lie in one whole.

    stretches: () = everything. None where nothing there is louder than -70 LUFS, or no block fits.
    Source: ITU-R BS.1770-5 Annex 1 (blocks of 400 ms every 100 ms, both gates).
    """
    tenths = np.asarray(power_100ms, np.float64)
    if tenths.size < TENTHS_IN_BLOCK:
        return None
    blocks = np.convolve(tenths, np.full(TENTHS_IN_BLOCK, 1 / TENTHS_IN_BLOCK), "valid")
    starts = np.arange(blocks.size)
    inside = np.zeros(blocks.size, bool) if stretches else np.ones(blocks.size, bool)
    for start_s, end_s in stretches:
        inside |= (starts >= math.ceil(10 * start_s - 1e-6)) & (starts + TENTHS_IN_BLOCK <= 10 * end_s + 1e-6)
    return integrated(blocks[inside]).value if inside.any() else None


def _lufs(power: float) -> float | None:
    return round(10 * math.log10(power) + OFFSET_LUFS, 2) if power > 1e-12 else None


def _rounded(values: Doubles | np.ndarray, digits: int = 6) -> tuple[float, ...]:
    """To so many significant digits: files of numbers stay short."""
    return tuple(float(f"{value:.{digits}g}") for value in np.asarray(values, np.float64).tolist())


def _data_offset(path: Path) -> int:
    """Where the samples of a WAV file begin; 0 for another kind of file."""
    from sweeper.audio.chunks import chunks

    with path.open("rb") as handle:
        return next((chunk.offset for chunk in chunks(handle) if chunk.name == b"data"), 0)
