"""Headroom, clipped runs, intersample overs, constant offset. Bounds: common practice, no source."""

from __future__ import annotations

from collections.abc import Iterator

from sweeper.delivery.intake.finding import Finding, Verdict, at
from sweeper.delivery.intake.heard import Heard
from sweeper.units import level_db

#: So few short runs may be chance; so many, or so long ones, are heard.
FEW_RUNS, LONG_FRAMES = 3, 6
MANY_RUNS_A_MINUTE, STOP_MS = 60.0, 1.0
LOW_PEAK_DBFS = -20.0
LOOK_DC_DBFS, STOP_DC_DBFS = -60.0, -40.0
UNLIMITED = "for the mix without limiter and clipper on the mix bus, and lower by some dB"


def judged(heard: Heard) -> Iterator[Finding]:
    """Headroom, clipping, intersample overs, DC."""
    yield _headroom(heard)
    yield _clipping(heard)
    yield _between(heard)
    yield _offset(heard)


def _headroom(heard: Heard) -> Finding:
    key, title = "headroom", "headroom"
    peak, sample, overs = (heard.measurements[key] for key in ("true_peak_dbtp", "sample_peak_dbfs", "overs"))
    figures = {"true_peak_dbtp": peak, "sample_peak_dbfs": sample, "samples_at_full_scale": overs}
    if peak is None or sample is None:
        return Finding(
            key, title, Verdict.STOP, "digital silence", "there is nothing in the file", "for the right file", figures
        )
    what = f"true peak {peak:+.2f} dBTP, highest sample {sample:+.2f} dBFS"
    if sample > 0:
        return Finding(
            key,
            title,
            Verdict.LOOK,
            f"{what}: float, over full scale",
            "nothing is lost while it stays float: turn it down before anything that clips",
            "whether it was meant to be so hot",
            figures,
        )
    if overs and heard.file.format.full_scale < 1.0:
        return Finding(
            key,
            title,
            Verdict.LOOK,
            f"{what}: {overs:.0f} samples at full scale",
            "integers cannot go higher: what was over is cut",
            UNLIMITED,
            figures,
        )
    if sample < LOW_PEAK_DBFS and heard.bits is not None and heard.bits <= 16:
        return Finding(
            key,
            title,
            Verdict.LOOK,
            f"{what}, in 16 bits",
            "so low, the noise of 16 bits comes up with the gain",
            "for a 24-bit bounce",
            figures,
        )
    return Finding(key, title, Verdict.OK, what, figures=figures)


def _clipping(heard: Heard) -> Finding:
    key, title, clipped = "clipping", "clipped runs", heard.clipped
    longest_ms = 1000 * clipped.longest_frames / heard.file.format.rate_hz
    minutes = max(heard.file.duration_s / 60, 1 / 60)
    figures = {
        "runs": clipped.runs,
        "longest_frames": clipped.longest_frames,
        "longest_ms": round(longest_ms, 3),
        "level_dbfs": round(level_db(clipped.level), 3) if clipped.runs else None,
    }
    if clipped.runs < FEW_RUNS and clipped.longest_frames < LONG_FRAMES:
        what = (
            "none"
            if not clipped.runs
            else f"{clipped.runs} of {clipped.longest_frames} samples at most: as may be by chance"
        )
        return Finding(key, title, Verdict.OK, what, figures=figures)
    places_s, tops = heard.seconds(clipped.places), f"{clipped.runs} flat top{'s' * (clipped.runs > 1)}"
    bad = clipped.runs / minutes > MANY_RUNS_A_MINUTE or longest_ms >= STOP_MS
    return Finding(
        key,
        title,
        Verdict.STOP if bad else Verdict.LOOK,
        f"{tops} at {level_db(clipped.level):.2f} dBFS, the longest of {clipped.longest_frames} samples "
        f" ({longest_ms:.2f} ms), {at(places_s)}",
        "cut-off waves are distorted for good; louder, that is heard first",
        UNLIMITED,
        figures,
        places_s,
    )


def _between(heard: Heard) -> Finding:
    key, title = "intersample", "intersample overs"
    count, places = heard.between
    figures = {"places": count}
    if not count:
        return Finding(key, title, Verdict.OK, "none", figures=figures)
    places_s = heard.seconds(places)
    return Finding(
        key,
        title,
        Verdict.LOOK,
        f"above full scale in {count} place{'s' * (count > 1)}, {at(places_s)}",
        "converters and coders clip there, and equalisers before the limiter start from that",
        UNLIMITED,
        figures,
        places_s,
    )


def _offset(heard: Heard) -> Finding:
    key, title, dc_dbfs = "dc", "constant offset", heard.measurements["dc_dbfs"]
    figures = {"dc_dbfs": dc_dbfs}
    if dc_dbfs is None or dc_dbfs < LOOK_DC_DBFS:
        what = "none" if dc_dbfs is None else f"{dc_dbfs:.0f} dBFS"
        return Finding(key, title, Verdict.OK, what, figures=figures)
    return Finding(
        key,
        title,
        Verdict.STOP if dc_dbfs >= STOP_DC_DBFS else Verdict.LOOK,
        f"{dc_dbfs:.1f} dBFS",
        "it takes headroom from one side, clicks at every edit, and makes limiters work one-sidedly",
        "which track or plugin brings it; a high-pass at 5 Hz takes it away",
        figures,
    )
