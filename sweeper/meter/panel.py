"""All meters in one pass over a stream, for the whole of it and for each section."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sweeper.audio.format import AudioFormat
from sweeper.meter import (
    cells,
    dc,
    levels,
    loud_crest,
    loudness,
    noise_floor,
    overs,
    psr,
    stereo,
    thirds,
    tilt,
    true_peak,
    worst_correlation,
)
from sweeper.meter.findings import Finding, Findings, absent, found
from sweeper.meter.grid import Samples
from sweeper.meter.windows import windows
from sweeper.quantities import OF_FILES, Measurements

KEYS = tuple(quantity.key for quantity in OF_FILES)
CHUNK_FRAMES = 32768  # what is worked on at a time: small enough to stay in the processor's cache
Range = tuple[int, int]


@dataclass(frozen=True)
class Meters:
    """The state of every measurement of one stream."""

    loudness: loudness.Loudness
    true_peak: true_peak.TruePeak
    levels: levels.Levels
    overs: overs.Overs
    cells: cells.Cells
    psr: psr.Psr
    thirds: thirds.Thirds


@dataclass(frozen=True)
class Section:
    """ranges: (start_frame, end_frame), in order of time, apart from each other."""

    name: str
    ranges: tuple[Range, ...]
    meters: Meters


@dataclass(frozen=True)
class Panel:
    """frames: how many have been seen."""

    format: AudioFormat
    frames: int
    whole: Meters
    sections: tuple[Section, ...]


def start(format: AudioFormat, sections: Mapping[str, Sequence[Range]] = {}) -> Panel:
    """A panel before the first sample.

    sections: name -> one or more (start_frame, end_frame), the end not included. A section is measured as
    if its ranges, in order of time, had been cut out and joined into a file; what overlaps counts once,
    what lies behind the end of the stream is missing.
    Raises: ValueError for a rate under 8000 Hz, no channel, a range that starts under 0 or ends before.
    """
    if format.channels < 1:
        raise ValueError(f"a stream has at least one channel, not {format.channels}")
    parts = tuple(Section(name, _united(name, ranges), _start(format)) for name, ranges in sections.items())
    return Panel(format, 0, _start(format), parts)


def advance(panel: Panel, block: Samples) -> Panel:
    """The panel after `block`: (channels, frames), float32 or float64, any number of frames.

    `block` is neither kept nor changed. However a stream is cut, the result is the same bit for bit.
    Raises: ValueError for another shape or type, or a sample that is not finite.
    """
    _check_shape(panel.format, block)
    with np.errstate(all="ignore"):
        for at in range(0, block.shape[1], CHUNK_FRAMES):
            panel = _advance_panel(panel, block[:, at : at + CHUNK_FRAMES])
    return panel


def finish(panel: Panel) -> Measurements:
    """Every quantity of the whole and of each section. The panel can go on afterwards.

    A value that does not exist is None, with a reason in plain words; never nan or infinite.
    Definitions and sources: the `finish` of each measurement. plr_db is true peak minus integrated
    loudness (EBU Tech 3343), 0 for a full-scale 997 Hz sine in both channels.
    """
    with np.errstate(all="ignore"):
        parts = {section.name: _measurements(section.meters) for section in panel.sections}
        return _measurements(panel.whole, parts)


def measure(
    samples: Samples, format: AudioFormat, sections: Mapping[str, Sequence[Range]] = {}
) -> Measurements:
    """Every quantity of a whole clip, (channels, frames); see `start`, `advance` and `finish`."""
    return finish(advance(start(format, sections), samples))


def _start(format: AudioFormat) -> Meters:
    return Meters(
        loudness.start(format), true_peak.start(format), levels.start(format), overs.start(format),
        cells.start(format), psr.start(format), thirds.start(format),
    )  # fmt: skip


def _advance_panel(panel: Panel, chunk: Samples) -> Panel:
    _check_finite(panel.frames, chunk)
    whole = _advance(panel.whole, chunk)
    sections = tuple(_advance_section(section, panel.frames, chunk) for section in panel.sections)
    return replace(panel, frames=panel.frames + chunk.shape[1], whole=whole, sections=sections)


def _advance(meters: Meters, block: Samples) -> Meters:
    heard = loudness.advance(meters.loudness, block)
    return Meters(
        heard, true_peak.advance(meters.true_peak, block), levels.advance(meters.levels, block),
        overs.advance(meters.overs, block), cells.advance(meters.cells, block),
        psr.advance(meters.psr, block, heard), thirds.advance(meters.thirds, block),
    )  # fmt: skip


def _advance_section(section: Section, frame: int, block: Samples) -> Section:
    meters = section.meters
    for begin, end in section.ranges:
        first, last = max(begin - frame, 0), min(end - frame, block.shape[1])
        if first < last:
            meters = _advance(meters, block[:, first:last])
    return section if meters is section.meters else replace(section, meters=meters)


def _finish(meters: Meters) -> Findings:
    seen, heard = cells.finish(meters.cells), windows(meters.loudness)
    findings = {
        **loudness.finish(meters.loudness), **true_peak.finish(meters.true_peak), **levels.finish(meters.levels, seen),
        **overs.finish(meters.overs), **stereo.finish(seen), **worst_correlation.finish(seen, heard),
        **dc.finish(seen), **noise_floor.finish(seen), **psr.finish(meters.psr, meters.loudness),
        **loud_crest.finish(seen, psr.sample_peaks(meters.psr), heard), **tilt.finish(meters.thirds),
    }  # fmt: skip
    return {**findings, "plr_db": _peak_to_loudness(findings["true_peak_dbtp"], findings["loudness_lufs"])}


def _peak_to_loudness(peak: Finding, integrated: Finding) -> Finding:
    if peak.value is None:
        return peak
    if integrated.value is None:
        return absent(f"no integrated loudness: {integrated.reason}")
    return found(peak.value - integrated.value)


def _measurements(meters: Meters, sections: Mapping[str, Measurements] = {}) -> Measurements:
    findings = _finish(meters)
    values = {key: findings[key].value for key in KEYS}
    reasons = {key: findings[key].reason for key in KEYS if findings[key].reason}
    return Measurements(values, reasons, sections, thirds.levels_dbfs(thirds.finish(meters.thirds)))


def _united(name: str, ranges: Sequence[Range]) -> tuple[Range, ...]:
    """The ranges in order of time, those that touch or overlap made one."""
    united: list[Range] = []
    for begin, end in sorted(ranges):
        if begin < 0 or end < begin:
            raise ValueError(f"section {name!r}: no frames from {begin} to {end}")
        if united and begin <= united[-1][1]:
            united[-1] = (united[-1][0], max(end, united[-1][1]))
        else:
            united.append((begin, end))
    return tuple(united)


def _check_finite(first_frame: int, block: Samples) -> None:
    if not np.isfinite(block.sum()) and not np.isfinite(block).all():
        channel, frame = np.argwhere(~np.isfinite(block))[0]
        raise ValueError(f"frame {first_frame + frame} of channel {channel} is {block[channel, frame]}, not a sample")


def _check_shape(format: AudioFormat, block: Samples) -> None:
    if block.ndim != 2 or len(block) != format.channels or block.dtype not in (np.float32, np.float64):
        wanted = f"({format.channels}, frames) of float32 or float64"
        raise ValueError(f"want {wanted}, not {block.shape} of {block.dtype}")
