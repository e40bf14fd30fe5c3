"""The whole page as SVG text."""

from __future__ import annotations

from xml.sax.saxutils import escape

from sweeper.meter.thirds import MIDBANDS_HZ
from sweeper.pictures import sections
from sweeper.pictures.axis import Axis, times_s
from sweeper.pictures.distribution import distribution
from sweeper.pictures.frame import below
from sweeper.pictures.headline import headline
from sweeper.pictures.look import FAINT_INK, HEIGHT_PX, LEFT_PX, PAPER, RIGHT_PX, SMALL, WIDTH_PX
from sweeper.pictures.over_time import over_time, over_time_heading
from sweeper.pictures.spectrum import spectrum
from sweeper.pictures.subject import Subject
from sweeper.pictures.svg import box, group, label, printable
from sweeper.pictures.waveform import waveform, waveform_heading

LOUDNESS_HEADING_PX, LOUDNESS_TOP_PX, LOUDNESS_BOTTOM_PX = 172.0, 184.0, 420.0
WAVE_HEADING_PX, WAVE_TOP_PX, WAVE_BOTTOM_PX = 444.0, 458.0, 592.0
LOWER_TOP_PX, LOWER_BOTTOM_PX = 666.0, 836.0
SPECTRUM_RIGHT_PX, DISTRIBUTION_LEFT_PX = 690.0, 770.0
SOURCES = "Loudness: ITU-R BS.1770, EBU Tech 3341 and 3342. True peak: BS.1770 Annex 2. Bands: IEC 61260-1."


def picture(subject: Subject) -> str:
    """A page of 1200 x 900 px; the same subject gives the same text. No text is longer than its place.

    Loudness over time and the waveform share one axis, shaded by section; under them spectrum and distribution.
    """
    across = Axis(0.0, subject.file.duration_s, LEFT_PX, RIGHT_PX)
    times = times_s(subject.file.duration_s)
    placed, left_over = sections.named(subject, across)
    top = LOUDNESS_TOP_PX + sections.ROW_PX * (max((one.row for one in placed), default=-1) + 1)
    at_s = [time for time, _ in times]
    parts = [
        group("headline", headline(subject)),
        group("sections", [*sections.shading(subject, across, top, LOUDNESS_BOTTOM_PX),
                           *sections.shading(subject, across, WAVE_TOP_PX, WAVE_BOTTOM_PX),
                           *sections.names(placed, top)]),
        group("loudness", [*over_time_heading(subject, across, LOUDNESS_HEADING_PX),
                           *over_time(subject, across, top, LOUDNESS_BOTTOM_PX, at_s)]),
        group("waveform", [*waveform_heading(subject, across, WAVE_HEADING_PX),
                           *waveform(subject, across, WAVE_TOP_PX, WAVE_BOTTOM_PX, at_s),
                           *below(across, WAVE_BOTTOM_PX, times),
                           _time_axis(times[-1][1], left_over)]),
        group("spectrum", spectrum(subject, Axis(0.0, len(MIDBANDS_HZ), LEFT_PX, SPECTRUM_RIGHT_PX), LOWER_TOP_PX,
                                   LOWER_BOTTOM_PX)),
        group("distribution", distribution(subject, DISTRIBUTION_LEFT_PX, RIGHT_PX, LOWER_TOP_PX, LOWER_BOTTOM_PX)),
        label(LEFT_PX, HEIGHT_PX - 12, SOURCES, SMALL, FAINT_INK),
    ]  # fmt: skip
    return "\n".join((_head(subject), box(0, 0, WIDTH_PX, HEIGHT_PX, PAPER), *parts, "</svg>", ""))


def _head(subject: Subject) -> str:
    return (f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH_PX}" height="{HEIGHT_PX}" '
            f'viewBox="0 0 {WIDTH_PX} {HEIGHT_PX}" font-family="sans-serif">\n'
            f"<title>{escape(printable(subject.file.path.name))}</title>")  # fmt: skip


def _time_axis(last: str, left_over: int) -> str:
    """What the axis shows, and how many sections have no room for their name. last: the last time beside the axis."""
    words = "time, s" if "." in last else "time, h:min:s" if last.count(":") > 1 else "time, min:s"
    if left_over:
        words = f"{left_over} more section name{'s' if left_over > 1 else ''} where the pointer rests; {words}"
    return label(RIGHT_PX, WAVE_BOTTOM_PX + 34, words, SMALL, FAINT_INK, "end")
