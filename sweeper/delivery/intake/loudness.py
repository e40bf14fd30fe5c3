"""How loud and how dense a mix is already. Bounds: common practice, no source."""

from __future__ import annotations

from collections.abc import Iterator

from sweeper.delivery.intake.finding import Finding, Verdict
from sweeper.delivery.intake.heard import Heard

LOUD_LUFS, DENSE_PLR_DB = -11.0, 9.0
WIDE_LU = 20.0


def judged(heard: Heard) -> Iterator[Finding]:
    """Loudness and range."""
    key, title, measured = "loudness", "loudness and range", heard.measurements
    loudness, range_lu, plr_db = (measured[name] for name in ("loudness_lufs", "loudness_range_lu", "plr_db"))
    figures = {"loudness_lufs": loudness, "loudness_range_lu": range_lu, "plr_db": plr_db}
    if loudness is None:
        yield Finding(
            key,
            title,
            Verdict.LOOK,
            f"no loudness: {measured.reasons.get('loudness_lufs', 'too short')}",
            "nothing can be levelled by it",
            "whether the file is whole",
            figures,
        )
        return
    what = f"{loudness:.1f} LUFS" + (f", range {range_lu:.1f} LU" if range_lu is not None else "")
    what += f", true peak {plr_db:.1f} dB above that" if plr_db is not None else ""
    if loudness > LOUD_LUFS and plr_db is not None and plr_db < DENSE_PLR_DB:
        yield Finding(
            key,
            title,
            Verdict.LOOK,
            f"{what}: it is limited already",
            "there is little left to shape, and limiting a second time is coarser than once",
            "for the mix without the limiter on the mix bus, beside this one as a reference",
            figures,
        )
    elif range_lu is not None and range_lu > WIDE_LU:
        yield Finding(
            key,
            title,
            Verdict.LOOK,
            what,
            "the quiet parts vanish where it is heard beside other music",
            "whether that range is meant to be kept",
            figures,
        )
    else:
        yield Finding(key, title, Verdict.OK, what, figures=figures)
