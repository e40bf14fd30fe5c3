"""Format, rate and word length of a mix. Bounds: common practice, no source."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from sweeper.audio.files import INTEGER_BITS
from sweeper.delivery.intake.finding import Finding, Verdict
from sweeper.delivery.intake.heard import Heard

RATES_HZ = (44100, 48000, 88200, 96000, 176400, 192000)
#: How lossy encodings begin, as libsndfile calls them.
LOSSY = ("MPEG", "VORBIS", "OPUS", "ULAW", "ALAW", "GSM", "G72", "IMA_ADPCM", "MS_ADPCM", "NMS_ADPCM", "VOX_ADPCM")
BOUNCE = "for a bounce from the session as WAV, 24 bit or 32-bit float, at the session's rate"


def judged(heard: Heard) -> Iterator[Finding]:
    """Format, rate, word length."""
    yield _format(heard)
    yield _rate(heard)
    yield _word(heard)


def _format(heard: Heard) -> Finding:
    file = heard.file
    channels = {1: "mono", 2: "stereo"}.get(file.format.channels, f"{file.format.channels} channels")
    what = f"{file.container} {file.encoding.replace('_', ' ')}, {channels}"
    figures: Mapping[str, float | int | str | None] = {
        "container": file.container,
        "encoding": file.encoding,
        "channels": file.format.channels,
        "duration_s": round(file.duration_s, 3),
    }
    if file.encoding.startswith(LOSSY):
        return Finding(
            "format",
            "format",
            Verdict.STOP,
            f"a lossy file: {what}",
            "what coding took away does not come back, and a limiter brings its traces up",
            BOUNCE,
            figures,
        )
    if file.format.channels > 2:
        return Finding(
            "format",
            "format",
            Verdict.STOP,
            what,
            "mono and stereo mixes can be mastered here",
            "for a stereo bounce",
            figures,
        )
    return Finding("format", "format", Verdict.OK, what, figures=figures)


def _rate(heard: Heard) -> Finding:
    rate_hz = heard.file.format.rate_hz
    what, figures = f"{rate_hz / 1000:g} kHz", {"rate_hz": rate_hz}
    if rate_hz < min(RATES_HZ):
        return Finding(
            "rate", "rate", Verdict.STOP, what, f"there is nothing above {rate_hz / 2000:g} kHz", BOUNCE, figures
        )
    if rate_hz not in RATES_HZ:
        return Finding(
            "rate",
            "rate",
            Verdict.LOOK,
            f"{what} is no usual rate",
            "plugins are tried at the usual rates",
            "whether the session runs at that rate",
            figures,
        )
    return Finding("rate", "rate", Verdict.OK, what, figures=figures)


def _word(heard: Heard) -> Finding:
    key, title = "word_length", "word length"
    held, used = INTEGER_BITS.get(heard.file.encoding), heard.bits
    figures = {"bits_in_file": held, "bits_used": used}
    silent = heard.measurements["sample_peak_dbfs"] is None
    if silent or heard.file.encoding.startswith(LOSSY):
        return Finding(
            key, title, Verdict.OK, "not told: silence" if silent else "a lossy file has none", figures=figures
        )
    name = f"{held} bit" if held else "float"
    if used is not None and used < 16:
        return Finding(
            key,
            title,
            Verdict.STOP if used <= 12 else Verdict.LOOK,
            f"only {used} bits are used ({name} in the file)",
            "so short a word is noisy, and a limiter lifts that noise",
            BOUNCE,
            figures,
        )
    if used == 16 and held == 16:
        return Finding(
            key,
            title,
            Verdict.LOOK,
            "16 bit",
            "the word was cut once already, and will be again; undithered it is distorted in the quiet",
            "for the 24-bit or float bounce; else whether it was dithered",
            figures,
        )
    if used is not None and used <= 16:
        return Finding(
            key,
            title,
            Verdict.LOOK,
            f"{name} in the file, and only {used} bits are used",
            "it was 16 bit once and was padded: the longer word holds nothing more",
            "for the bounce before it was cut to 16 bits",
            figures,
        )
    if held is not None and used is not None and used < min(held, 24):
        return Finding(
            key,
            title,
            Verdict.LOOK,
            f"{name} in the file, and {used} bits are used",
            "something in the path holds shorter words",
            "which converter or plugin cuts the word",
            figures,
        )
    return Finding(
        key,
        title,
        Verdict.OK,
        name if held else "float" + (f", on a grid of {used} bit" if used else ""),
        figures=figures,
    )
