"""What left and right have to do with each other. Bounds: common practice, no source."""

from __future__ import annotations

from collections.abc import Iterator

from sweeper.delivery.intake.finding import Finding, Verdict
from sweeper.delivery.intake.heard import Heard

DEAD_DB = 60.0
LOOK_BALANCE_DB, STOP_BALANCE_DB = 2.0, 6.0
LOOK_CORRELATION, LOOK_WORST = 0.0, -0.4
LOOK_MONO_LOSS_LU, STOP_MONO_LOSS_LU = 3.5, 6.0
LOOK_BASS, STOP_BASS = 0.4, -0.2
#: Bass that lies so far below the whole is none.
LEAST_BASS_DB = -25.0
TURNED_OVER = -0.6


def judged(heard: Heard) -> Iterator[Finding]:
    """Channels, polarity, balance, correlation, mono loss, bass."""
    if heard.file.format.channels != 2:
        yield Finding("channels", "channels", Verdict.OK, "one channel: no stereo to look at")
        return
    channels = _channels(heard)
    yield channels
    if channels.verdict is Verdict.STOP or heard.same:
        return
    yield _polarity(heard)
    yield _balance(heard)
    yield _correlation(heard)
    yield _mono_loss(heard)
    yield _bass(heard)


def _channels(heard: Heard) -> Finding:
    key, title = "channels", "channels"
    left, right = heard.channels_dbfs
    figures = {"left_rms_dbfs": left, "right_rms_dbfs": right}
    for name, one, other in (("left", left, right), ("right", right, left)):
        if other is not None and (one is None or one < other - DEAD_DB):
            return Finding(
                key,
                title,
                Verdict.STOP,
                f"the {name} channel is dead",
                "half of the mix is missing",
                "for the bounce again, with both channels",
                figures,
            )
    if heard.same:
        return Finding(
            key,
            title,
            Verdict.LOOK,
            "left and right are the same, sample for sample: mono in two channels",
            "it may be meant so, or a pan or a width was lost in the bounce",
            "whether the mix is mono",
            figures,
        )
    return Finding(key, title, Verdict.OK, "both are there, and differ", figures=figures)


def _polarity(heard: Heard) -> Finding:
    key, title, correlation = "polarity", "polarity", heard.measurements["correlation"]
    bass = heard.bass.correlation if heard.bass is not None and heard.bass.share_db > LEAST_BASS_DB else None
    figures = {"correlation": correlation, "bass_correlation": bass}
    ask = "for a bounce with both channels the right way round"
    if heard.opposite:
        return Finding(
            key,
            title,
            Verdict.STOP,
            "right is left turned over, sample for sample",
            "in mono nothing is left",
            ask,
            figures,
        )
    if correlation is not None and correlation < TURNED_OVER:
        return Finding(
            key,
            title,
            Verdict.STOP,
            f"one channel seems turned over: correlation {correlation:.2f}",
            "in mono most of the mix cancels, and bass is weak in stereo too",
            ask,
            figures,
        )
    return Finding(key, title, Verdict.OK, "no channel is turned over against the other", figures=figures)


def _balance(heard: Heard) -> Finding:
    key, title, balance_db = "balance", "balance", heard.measurements["balance_db"]
    figures = {"balance_db": balance_db}
    if balance_db is None:
        return Finding(key, title, Verdict.OK, "none", figures=figures)
    side = "right" if balance_db > 0 else "left"
    what = f"{side} is louder by {abs(balance_db):.1f} dB"
    if abs(balance_db) < LOOK_BALANCE_DB:
        return Finding(key, title, Verdict.OK, what, figures=figures)
    return Finding(
        key,
        title,
        Verdict.STOP if abs(balance_db) >= STOP_BALANCE_DB else Verdict.LOOK,
        what,
        "the voice no longer stands in the middle, or one side is too low as a whole",
        "whether it is meant so, and what stands in the middle",
        figures,
    )


def _correlation(heard: Heard) -> Finding:
    key, title = "correlation", "correlation"
    whole, lowest = heard.measurements["correlation"], heard.measurements["correlation_worst"]
    figures = {"correlation": whole, "correlation_worst": lowest}
    what = f"{whole:.2f}" if whole is not None else "none"
    what += f", {lowest:.2f} in the worst 3 s" if lowest is not None else ""
    if (whole is not None and whole < LOOK_CORRELATION) or (lowest is not None and lowest < LOOK_WORST):
        return Finding(
            key,
            title,
            Verdict.LOOK,
            what,
            "that much out of phase is thin in mono, and swims in stereo",
            "which wideners or stereo delays are on, and how it sounds in mono",
            figures,
        )
    return Finding(key, title, Verdict.OK, what, figures=figures)


def _mono_loss(heard: Heard) -> Finding:
    key, title, loss_lu = "mono_loss", "mono loss", heard.measurements["mono_loss_lu"]
    figures = {"mono_loss_lu": loss_lu}
    if loss_lu is None or loss_lu < LOOK_MONO_LOSS_LU:
        return Finding(key, title, Verdict.OK, "none" if loss_lu is None else f"{loss_lu:.1f} LU", figures=figures)
    return Finding(
        key,
        title,
        Verdict.STOP if loss_lu >= STOP_MONO_LOSS_LU else Verdict.LOOK,
        f"{loss_lu:.1f} LU",
        "so much of it is gone on every mono loudspeaker",
        "how it is meant to sound in mono",
        figures,
    )


def _bass(heard: Heard) -> Finding:
    key, title, bass = "low_end", "low-end phase", heard.bass
    if bass is None or bass.share_db < LEAST_BASS_DB:
        return Finding(key, title, Verdict.OK, "hardly any bass")
    figures = {
        "bass_correlation": bass.correlation,
        "bass_mono_loss_db": bass.mono_loss_db,
        "bass_share_db": bass.share_db,
    }
    what = f"below 120 Hz the correlation is {bass.correlation:.2f}, and mono loses {bass.mono_loss_db:.1f} dB"
    if bass.correlation >= LOOK_BASS:
        return Finding(key, title, Verdict.OK, what, figures=figures)
    return Finding(
        key,
        title,
        Verdict.STOP if bass.correlation < STOP_BASS else Verdict.LOOK,
        what,
        "wide bass cancels in mono and in the room, and cannot be cut to vinyl",
        "what widens the bass, and for a bounce with it in mono below 120 Hz",
        figures,
    )
