"""The long-term spectrum: a bar a third of an octave."""

from __future__ import annotations

import math

from sweeper.meter.curves import levels
from sweeper.meter.thirds import MIDBANDS_HZ
from sweeper.pictures.axis import Axis, round_values
from sweeper.pictures.frame import below, beside, edge, grid, heading, nothing_there
from sweeper.pictures.look import BLUE, FAINT_INK, SMALL
from sweeper.pictures.subject import Subject
from sweeper.pictures.svg import box, label, signed

SPAN_DB = 70.0
BAR_SHARE = 0.8
SILENT_DBFS = -200.0
#: The bands that have a number under them, by place: nominal midbands of octaves, IEC 61260-1 (from memory).
OCTAVES = {2: "31.5", 5: "63", 8: "125", 11: "250", 14: "500", 17: "1k", 20: "2k", 23: "4k", 26: "8k", 29: "16k"}


def spectrum(subject: Subject, across: Axis, top_px: float, bottom_px: float) -> list[str]:
    """The chart with what stands around it. across: places 0 to 31, a band a place."""
    values = levels(subject.curves.band_powers, least_db=SILENT_DBFS)
    loudest = float(values.max())
    highest = 10.0 * math.ceil((loudest + 1.0) / 10.0) if loudest > SILENT_DBFS else 0.0
    up = Axis(highest - SPAN_DB, highest, bottom_px, top_px)
    shown = round_values(up.lowest, up.highest, 10.0)
    parts = heading(across.start_px, top_px - 10, "Spectrum", "dBFS RMS a third of an octave, all channels, whole file")
    parts += grid(across, up, [place + 0.5 for place in OCTAVES], shown)
    parts += [_bar(across, up, place, float(value)) for place, value in enumerate(values) if value > up.lowest]
    if loudest <= SILENT_DBFS:
        parts.append(nothing_there(across, up, subject.measurements.reasons.get("rms_dbfs", "")))
    parts += [edge(across, up), *beside(up, across.start_px, [(value, signed(value, 0)) for value in shown])]
    parts += below(across, bottom_px, [(place + 0.5, words) for place, words in OCTAVES.items()])
    return [*parts, label(across.end_px, bottom_px + 34, "frequency, Hz", SMALL, FAINT_INK, "end")]


def _bar(across: Axis, up: Axis, place: int, value_dbfs: float) -> str:
    side = (1.0 - BAR_SHARE) / 2.0
    told = f"{MIDBANDS_HZ[place]:.4g} Hz: {signed(value_dbfs, 1)} dBFS"
    return box(across.at(place + side), up.at(value_dbfs), across.at(place + 1 - side), up.start_px, BLUE, told=told)
