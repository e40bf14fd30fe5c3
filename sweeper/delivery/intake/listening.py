"""A mix heard once from end to end, and every finding about it. Runs in workers."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from sweeper import meter
from sweeper.audio import AudioFormat, SoundFile, blocks, inspect
from sweeper.delivery.intake import ends, form, loudness, origin, peaks, stereo
from sweeper.delivery.intake.finding import Finding, Verdict, worst
from sweeper.delivery.intake.heard import Heard
from sweeper.errors import AudioFileError
from sweeper.meter import band_edge, between_overs, cells, flat_tops, loud_places, low_end, twins, word_length
from sweeper.meter.coding_grid import STRETCH_FRAMES, CodingGrid, coding_grid
from sweeper.meter.grid import Samples, nothing
from sweeper.meter.k_weighting import LOWEST_RATE_HZ
from sweeper.render.one_pass import metered
from sweeper.render.orders import FILE_PATIENCE_S
from sweeper.workers import Report

#: Stretches that are looked at for the blocks of a coder.
STRETCHES = 4
EDGE_S = 0.001


@dataclass(frozen=True)
class IntakeOrder:
    """Look a file over."""

    file: Path


@dataclass(frozen=True)
class Intake:
    """A file looked over. findings: in a fixed order."""

    file: SoundFile
    findings: tuple[Finding, ...]

    @property
    def verdict(self) -> Verdict:
        """The worst of all findings."""
        return worst([finding.verdict for finding in self.findings])


def look_over(order: IntakeOrder, report: Report) -> Intake:
    """Hear the file and judge it. Raises AudioFileError when it cannot be read."""
    report.phase(f"listening to {order.file.name}", FILE_PATIENCE_S)
    file = inspect(order.file)
    if file.format.rate_hz < LOWEST_RATE_HZ:
        raise AudioFileError(
            f"{file.path} has a rate of {file.format.rate_hz} Hz", f"loudness is defined from {LOWEST_RATE_HZ} Hz on"
        )
    heard = _heard(file, report)
    findings = [finding for group in (form, peaks, ends, stereo, origin, loudness) for finding in group.judged(heard)]
    return Intake(file, tuple(findings))


@dataclass(frozen=True)
class _Meters:
    """The states of what is measured beside the panel. first, last: the frames at either end."""

    word: word_length.WordLength
    tops: flat_tops.FlatTops
    overs: between_overs.BetweenOvers
    bass: low_end.LowEnd
    pair: twins.Twins
    edges: band_edge.BandEdges
    places: loud_places.LoudPlaces
    first: Samples
    last: Samples


def _start(format: AudioFormat) -> _Meters:
    return _Meters(
        word_length.start(format), flat_tops.start(format), between_overs.start(format), low_end.start(format),
        twins.start(format), band_edge.start(format), loud_places.start(format), nothing(format.channels),
        nothing(format.channels),
    )  # fmt: skip


def _advance(state: _Meters, block: Samples, edge_frames: int) -> _Meters:
    return _Meters(
        word_length.advance(state.word, block), flat_tops.advance(state.tops, block),
        between_overs.advance(state.overs, block), low_end.advance(state.bass, block), twins.advance(state.pair, block),
        band_edge.advance(state.edges, block), loud_places.advance(state.places, block),
        state.first if state.first.shape[1] else block[:, :edge_frames].copy(),
        np.concatenate((state.last, block[:, -edge_frames:]), axis=1)[:, -edge_frames:],
    )  # fmt: skip


def _heard(file: SoundFile, report: Report) -> Heard:
    states = _start(file.format)
    edge_frames = max(1, round(EDGE_S * file.format.rate_hz))

    def also(block: Samples) -> None:
        nonlocal states
        states = _advance(states, block, edge_frames)

    panel = metered(file, {}, report, also)
    seen = cells.finish(panel.whole.cells)
    sums = seen.energies[: file.format.channels].sum(axis=1) / seen.frames
    report.phase(f"looking for traces of coding in {file.path.name}", FILE_PATIENCE_S)
    return Heard(
        file=file,
        measurements=meter.finish(panel),
        bits=word_length.finish(states.word),
        clipped=flat_tops.finish(states.tops),
        between=between_overs.finish(states.overs),
        ends=ends.ends_of(seen, _level_dbfs(states.first), _level_dbfs(states.last)),
        bass=low_end.finish(states.bass),
        channels_dbfs=tuple(10 * math.log10(power) if power > 0 else None for power in sums),
        same=twins.same(states.pair),
        opposite=twins.opposite(states.pair),
        edge=band_edge.finish(states.edges),
        grid=_grid(file, states.places, report),
    )


def _grid(file: SoundFile, places: loud_places.LoudPlaces, report: Report) -> CodingGrid | None:
    begins = [
        begin
        for begin in loud_places.finish(places, STRETCH_FRAMES, STRETCHES)
        if begin + STRETCH_FRAMES <= file.frames
    ]
    stretches = [(begin, next(blocks(file, STRETCH_FRAMES, begin, begin + STRETCH_FRAMES))) for begin in begins]
    return coding_grid(stretches, file.format.rate_hz, lambda: report.beat(""))


def _level_dbfs(samples: Samples) -> float | None:
    power = float(np.mean(np.square(samples, dtype=np.float64)))
    return 10 * math.log10(power) if power > 0 else None
