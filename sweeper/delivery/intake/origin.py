"""Signs that a mix was something else before: coded with loss, or at a lower rate.

Hit rates and false alarms: DEVELOPERS.md, decisions.
"""

from __future__ import annotations

from collections.abc import Iterator

from sweeper.delivery.intake.finding import Finding, Verdict
from sweeper.delivery.intake.heard import Heard
from sweeper.meter.band_edge import BandEdge

#: A fall of so much within 800 Hz is no music's.
STEEP_DB = 20.0
#: Where coders end at the highest bit rates; edges between that and 22.2 kHz are those of rates of 44.1 kHz.
CODERS_END_HZ, LOWEST_RATE_END_HZ = 20600.0, 22200.0
#: Up to here an edge in a file of a high rate is that of a lower rate.
HALF_48_HZ = 24300.0
ORIGINAL = "for the bounce from the session, never coded or converted, at the session's own rate"


def judged(heard: Heard) -> Iterator[Finding]:
    """Coding and up-sampling."""
    yield _coding(heard)
    yield _rate(heard)


def _edge(heard: Heard) -> BandEdge | None:
    """The edge, where it is steep."""
    return heard.edge if heard.edge is not None and heard.edge.drop_db >= STEEP_DB else None


def _coding(heard: Heard) -> Finding:
    key, title, grid, edge = "coding", "lossy source", heard.grid, _edge(heard)
    figures = {
        "edge_hz": round(edge.edge_hz) if edge else None,
        "edge_drop_db": round(edge.drop_db, 1) if edge else None,
        "grid_window": grid.window if grid else None,
        "grid_sigmas": round(grid.sigmas, 1) if grid else None,
        "grid_depth_db": round(grid.depth_db, 1) if grid else None,
    }
    why = "what coding took away does not come back, and a limiter brings its traces up"
    if grid is not None and grid.clear:
        return Finding(
            key,
            title,
            Verdict.STOP,
            f"it was coded with loss: the blocks of a coder of the kind of {grid.coder} "
            f"stand out of it ({grid.sigmas:.0f} standard deviations)",
            why,
            ORIGINAL,
            figures,
        )
    if edge is not None and edge.edge_hz < CODERS_END_HZ:
        return Finding(
            key,
            title,
            Verdict.LOOK,
            f"it ends steeply at {edge.edge_hz / 1000:.1f} kHz, by {edge.drop_db:.0f} dB, "
            "as coders cut it off (or a steep filter in the mix)",
            why,
            f"whether anything on the way was MP3 or the like, and {ORIGINAL}",
            figures,
        )
    return Finding(key, title, Verdict.OK, "no sign of one", figures=figures)


def _rate(heard: Heard) -> Finding:
    key, title, edge, rate_hz = "upsampling", "up-sampled source", _edge(heard), heard.file.format.rate_hz
    figures = {"edge_hz": round(edge.edge_hz) if edge else None}
    likely = (
        edge is not None
        and rate_hz > 44100
        and edge.edge_hz <= HALF_48_HZ
        and (edge.edge_hz >= CODERS_END_HZ or rate_hz > 48000)
    )
    if edge is None or not likely:
        return Finding(key, title, Verdict.OK, "no sign of one", figures=figures)
    was = "44.1" if edge.edge_hz < LOWEST_RATE_END_HZ else "48"
    return Finding(
        key,
        title,
        Verdict.LOOK,
        f"there is nothing above {edge.edge_hz / 1000:.1f} kHz in a file of "
        f"{rate_hz / 1000:g} kHz: it was {was} kHz once, or a stage in the mix runs at that",
        "the higher rate holds nothing more, and was one conversion",
        ORIGINAL,
        figures,
    )
