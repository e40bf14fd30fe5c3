"""Silence, noise and cuts at head and tail. Bounds: common practice, no source."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from sweeper.delivery.intake.finding import Finding, Verdict
from sweeper.delivery.intake.heard import Ends, Heard
from sweeper.meter.cells import CELLS_PER_S, Energies
from sweeper.units import clock

#: Music is what lies within so much of the loud cells; noise before it is told from so long on, and from so high on.
MUSIC_BELOW_LOUD_DB = 50.0
LEAST_NOISE_S, LOUD_NOISE_DBFS = 0.2, -75.0
LONG_HEAD_S, LONG_TAIL_S = 3.0, 10.0
#: What the first and last milliseconds may hold where nothing is cut into.
CUT_DBFS = -50.0
NO_FADES = "for a bounce from a bar before to the end of the last tail, without fades"


def ends_of(seen: Energies, first_dbfs: float | None, last_dbfs: float | None) -> Ends | None:
    """What lies before and after the music, by its 50 ms cells; None for silence and what is shorter than a cell."""
    channels, frames = seen.format.channels, np.diff(seen.edges)
    if not seen.complete:
        return None
    powers = seen.energies[:channels, : seen.complete].sum(axis=0) / (channels * frames)
    if not powers.any():
        return None
    loud = float(np.quantile(powers[powers > 0], 0.95))
    music = np.flatnonzero(powers > loud * 10 ** (-MUSIC_BELOW_LOUD_DB / 10))
    before, after = powers[: music[0]], powers[music[-1] + 1 :][::-1]
    sides = [_side(part) for part in (before, after)]
    return Ends(
        (sides[0][0], sides[1][0]), (sides[0][1], sides[1][1]), (sides[0][2], sides[1][2]), first_dbfs, last_dbfs
    )


def _side(powers: np.ndarray) -> tuple[float, float, float | None]:
    """Seconds of digital silence from the outside in, seconds of noise then, and the level of that."""
    sounding = np.flatnonzero(powers > 0)
    silent = int(sounding[0]) if sounding.size else powers.size
    noise = powers[silent:]
    level_dbfs = 10 * math.log10(float(np.median(noise[noise > 0]))) if noise.any() else None
    return silent / CELLS_PER_S, noise.size / CELLS_PER_S, level_dbfs


def judged(heard: Heard) -> Iterator[Finding]:
    """Head and tail."""
    if heard.ends is None:
        return
    for side, key in enumerate(("head", "tail")):
        yield _judged(heard.ends, side, key)


def _judged(ends: Ends, side: int, key: str) -> Finding:
    silence_s, noise_s, noise_dbfs = ends.silence_s[side], ends.noise_s[side], ends.noise_dbfs[side]
    edge_dbfs = (ends.first_dbfs, ends.last_dbfs)[side]
    figures = {"silence_s": silence_s, "faint_s": noise_s, "faint_dbfs": noise_dbfs, "edge_dbfs": edge_dbfs}
    if edge_dbfs is not None and edge_dbfs > CUT_DBFS:
        where = "begins in the middle of a sound" if key == "head" else "ends in the middle of a sound"
        return Finding(
            key,
            key,
            Verdict.LOOK,
            f"{where}, at {edge_dbfs:.0f} dBFS",
            "the attack, or the last tail, is cut" if key == "tail" else "the first attack may be cut, and it clicks",
            NO_FADES,
            figures,
        )
    if noise_dbfs is not None and noise_dbfs > LOUD_NOISE_DBFS and noise_s >= LEAST_NOISE_S and key == "head":
        return Finding(
            key,
            key,
            Verdict.LOOK,
            f"{noise_s:.1f} s of noise at {noise_dbfs:.0f} dBFS before the music",
            "mastering lifts it, and a start out of silence no longer hides it",
            "whether it belongs there, or a gate or a cut was forgotten",
            figures,
        )
    if silence_s > (LONG_HEAD_S, LONG_TAIL_S)[side]:
        return Finding(
            key,
            key,
            Verdict.LOOK,
            f"{clock(silence_s)} of digital silence",
            "it makes a wrong start or length on a record",
            "whether the bounce's range is right",
            figures,
        )
    parts = [f"{silence_s:.2f} s of digital silence"] if silence_s else []
    parts += [f"{noise_s:.2f} s under {-MUSIC_BELOW_LOUD_DB:.0f} dB of the music"] if noise_s else []
    return Finding(
        key,
        key,
        Verdict.OK,
        ", ".join(parts) or ("starts at once" if key == "head" else "ends at once"),
        figures=figures,
    )
