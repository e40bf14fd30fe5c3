"""The name of the file, what it is, and its main numbers."""

from __future__ import annotations

from sweeper.pictures.look import FAINT_INK, INK, LARGE, LEFT_PX, RIGHT_PX, SMALL, TITLE, USUAL
from sweeper.pictures.subject import Subject
from sweeper.pictures.svg import label, shortened, signed, text_width_px
from sweeper.quantities import BY_KEY
from sweeper.units import clock

FIGURES = ("loudness_lufs", "short_term_max_lufs", "momentary_max_lufs", "loudness_range_lu", "true_peak_dbtp", "overs",
           "crest_db", "plr_db")  # fmt: skip
CELL_PX = (RIGHT_PX - LEFT_PX) / len(FIGURES)
ON_TARGET_LU = 0.05


def headline(subject: Subject) -> list[str]:
    """Title, format, and a row of figures."""
    name = shortened(subject.file.path.name, TITLE, RIGHT_PX - LEFT_PX, True)
    parts = [label(LEFT_PX, 46, name, TITLE, INK, bold=True), label(LEFT_PX, 68, _format(subject), USUAL, FAINT_INK)]
    for at, key in enumerate(FIGURES):
        parts += _figure(LEFT_PX + at * CELL_PX, key, subject)
    return parts


def _format(subject: Subject) -> str:
    file = subject.file
    channels = {1: "mono", 2: "stereo"}.get(file.format.channels, f"{file.format.channels} channels")
    return f"{_length(file.duration_s)} · {file.format.rate_hz:,} Hz · {channels}"


def _length(duration_s: float) -> str:
    if duration_s < 1:
        return f"{1000 * duration_s:.3g} ms"
    return f"{duration_s:.1f} s" if duration_s < 60 else f"{clock(duration_s)} min"


def _figure(x_px: float, key: str, subject: Subject) -> list[str]:
    quantity, value = BY_KEY[key], subject.measurements[key]
    number = "–" if value is None else signed(value, quantity.decimals)
    parts = [label(x_px, 100, quantity.name, SMALL, FAINT_INK), label(x_px, 124, number, LARGE, INK, bold=True)]
    if value is not None and quantity.unit:
        parts.append(label(x_px + text_width_px(number, LARGE, True) + 2, 124, quantity.unit, SMALL, FAINT_INK))
    first, second = _two_lines(_note(key, value, subject))
    return parts + [label(x_px, y, words, SMALL, FAINT_INK) for y, words in ((140, first), (153, second)) if words]


def _two_lines(note: str) -> tuple[str, str]:
    """A note broken between two words, each line as wide as its place."""
    width, words = CELL_PX - 8, note.split()
    fitting = max((n for n in range(len(words) + 1) if text_width_px(" ".join(words[:n]), SMALL) <= width), default=0)
    return " ".join(words[:fitting]), shortened(" ".join(words[fitting:]), SMALL, width)


def _note(key: str, value: float | None, subject: Subject) -> str:
    """How far loudness is from the target, or why there is no figure."""
    if value is None:
        return subject.measurements.reasons.get(key, "")
    if key != "loudness_lufs" or subject.target_lufs is None:
        return ""
    over_lu = value - subject.target_lufs
    if abs(over_lu) < ON_TARGET_LU:
        return "on target"
    return f"{abs(over_lu):.1f} LU {'over' if over_lu > 0 else 'under'} target"
